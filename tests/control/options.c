/* Reads the bench control's command line. */
#include "options.h"
#include <errno.h>
#include <getopt.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char help_text[] =
    "Usage: bench-control [OPTION...]\n"
    "       bench-control --ask OPERATOR COMMAND...\n"
    "Plays the reader and punch of a twin-channel control. It moves nothing.\n"
    "\n"
    "Line\n"
    "  --line PORT          one line for both channels, TCP on 127.0.0.1; 0: any free\n"
    "  --line-upper PORT    a line for the upper channel alone\n"
    "  --line-lower PORT    a line for the lower channel alone\n"
    "  --speed BAUD         speed of the line (9600)\n"
    "  --framing FORM       7E2 7E1 7O1 8N1 8N2 8E1 8E2: bits of a character's time (7E2)\n"
    "  --code iso|ascii|eia iso: even parity in bit 8; ascii: bit 8 clear; eia: RS-244 (iso)\n"
    "  --dc3 93|13          the byte sent for DC3 (93 with iso and eia, 13 with ascii)\n"
    "  --parity alarm|pass|drop|replace  what its port does with a wrong character (alarm)\n"
    "  --fifo N             characters below the sender that still come after DC3 (16)\n"
    "  --brake              what feeds that FIFO stops by itself at DC3\n"
    "  --faster N           all times divided by N, for tests (1)\n"
    "Buffer and memory\n"
    "  --buffer BYTES       input buffer (1024)\n"
    "  --reserve BYTES      DC3 when no more is free (256)\n"
    "  --resume BYTES       DC1 when no more waits in the buffer (a quarter of it)\n"
    "  --drain CPS          characters the control takes per second; 0: as they come (0)\n"
    "  --memory BYTES       program memory of each channel (262144)\n"
    "  --full hold|close    memory full: DC3 for ever, or the line is closed (hold)\n"
    "  --overrun lose|stop  an overrun: characters are missing, or the load ends (lose)\n"
    "  --same-number replace|refuse  a number that is in memory already (replace)\n"
    "  --loss alarm|ignore  the connection goes in mid-load: the load ends, or waits (alarm)\n"
    "  --ask-dc1 anew|once  a new connection hears the DC1 of a channel that reads, or not (anew)\n"
    "  --store DIR          programs are copied to DIR/CHANNEL/Onnnn.nc\n"
    "  --battery DIR        as --store, and what is there is in memory at the start\n"
    "  --channel-word CHANNEL=TEXT  the block behind the opening % by which it knows a load's\n"
    "                       channel, and that it punches; for both channels\n"
    "Punch\n"
    "  --eob lf|crlf|lfcrcr end of block (lf)\n"
    "  --leader N           NULs before the first character (50)\n"
    "  --trailer N          NULs after the last (50)\n"
    "Bench\n"
    "  --operator PATH      Unix socket for the operator's commands; a number: TCP port, 0: any "
    "free\n"
    "  --pause MS           before each automatic task (100)\n"
    "  --verbose            tells on stdout what happens\n"
    "  --with-parent        ends when the program that started it ends\n"
    "  --ask OPERATOR ...   sends one command and prints the answer; status 0 ok, 1 error\n"
    "  --help               this text; the operator's command `help` lists the commands\n";

enum {
	O_LINE = 256,
	O_UPPER,
	O_LOWER,
	O_SPEED,
	O_FRAMING,
	O_CODE,
	O_DC3,
	O_PARITY,
	O_FIFO,
	O_BRAKE,
	O_FASTER,
	O_BUFFER,
	O_RESERVE,
	O_RESUME,
	O_DRAIN,
	O_MEMORY,
	O_FULL,
	O_OVERRUN,
	O_SAME,
	O_LOSS,
	O_ASK_DC1,
	O_WORD,
	O_STORE,
	O_BATTERY,
	O_EOB,
	O_LEADER,
	O_TRAILER,
	O_OPERATOR,
	O_PAUSE,
	O_VERBOSE,
	O_PARENT,
	O_HELP,
};

static const struct option table[] = {
    {"line", 1, 0, O_LINE},
    {"line-upper", 1, 0, O_UPPER},
    {"line-lower", 1, 0, O_LOWER},
    {"speed", 1, 0, O_SPEED},
    {"framing", 1, 0, O_FRAMING},
    {"code", 1, 0, O_CODE},
    {"dc3", 1, 0, O_DC3},
    {"parity", 1, 0, O_PARITY},
    {"fifo", 1, 0, O_FIFO},
    {"brake", 0, 0, O_BRAKE},
    {"faster", 1, 0, O_FASTER},
    {"buffer", 1, 0, O_BUFFER},
    {"reserve", 1, 0, O_RESERVE},
    {"resume", 1, 0, O_RESUME},
    {"drain", 1, 0, O_DRAIN},
    {"memory", 1, 0, O_MEMORY},
    {"full", 1, 0, O_FULL},
    {"overrun", 1, 0, O_OVERRUN},
    {"same-number", 1, 0, O_SAME},
    {"loss", 1, 0, O_LOSS},
    {"ask-dc1", 1, 0, O_ASK_DC1},
    {"channel-word", 1, 0, O_WORD},
    {"store", 1, 0, O_STORE},
    {"battery", 1, 0, O_BATTERY},
    {"eob", 1, 0, O_EOB},
    {"leader", 1, 0, O_LEADER},
    {"trailer", 1, 0, O_TRAILER},
    {"operator", 1, 0, O_OPERATOR},
    {"pause", 1, 0, O_PAUSE},
    {"verbose", 0, 0, O_VERBOSE},
    {"with-parent", 0, 0, O_PARENT},
    {"help", 0, 0, O_HELP},
    {0, 0, 0, 0},
};

static bool wrong; /* a value was out of range; told already */

static unsigned long number(const char *name, unsigned long least, unsigned long most)
{
	char *end;
	unsigned long n;

	errno = 0;
	n = strtoul(optarg, &end, 10);
	if (optarg[0] < '0' || optarg[0] > '9' || *end || errno || n < least || n > most) {
		fprintf(stderr, "bench-control: --%s %s: give a number from %lu to %lu\n", name,
		    optarg, least, most);
		wrong = true;
		return least;
	}
	return n;
}

/* Which of the words, separated by blanks, optarg is; from 0. */
static unsigned choice(const char *name, const char *words)
{
	size_t len = strlen(optarg);
	unsigned i = 0;

	for (const char *w = words; *w; i++) {
		size_t n = strcspn(w, " ");

		if (n == len && !memcmp(w, optarg, n))
			return i;
		w += n;
		w += *w == ' ';
	}
	fprintf(stderr, "bench-control: --%s %s: give one of: %s\n", name, optarg, words);
	wrong = true;
	return 0;
}

static void take_line(struct options *o, int opt, const char *name)
{
	static const unsigned bits[] = {11, 10, 10, 10, 11, 11, 12};
	static const enum code codes[] = {CODE_ISO, CODE_ASCII, CODE_EIA};

	switch (opt) {
	case O_LINE:
		o->line = (long)number(name, 0, 65535);
		break;
	case O_UPPER:
		o->upper = (long)number(name, 0, 65535);
		break;
	case O_LOWER:
		o->lower = (long)number(name, 0, 65535);
		break;
	case O_SPEED:
		o->baud = number(name, 50, 1000000);
		break;
	case O_FRAMING:
		o->bits = bits[choice(name, "7E2 7E1 7O1 8N1 8N2 8E1 8E2")];
		break;
	case O_CODE:
		o->bench.code = codes[choice(name, "iso ascii eia")];
		break;
	case O_DC3:
		o->bench.dc3 = choice(name, "93 13") ? 0x13 : 0x93;
		break;
	case O_PARITY:
		o->bench.wrong = (enum bench_wrong)choice(name, "alarm pass drop replace");
		break;
	case O_FIFO:
		o->wire.fifo = number(name, 1, 1 << 20);
		break;
	case O_BRAKE:
		o->wire.brake = true;
		break;
	case O_FASTER:
		o->bench.faster = (unsigned)number(name, 1, 1000);
		break;
	}
}

static void take_memory(struct options *o, int opt, const char *name)
{
	switch (opt) {
	case O_BUFFER:
		o->wire.buffer = number(name, 1, 1 << 20);
		break;
	case O_RESERVE:
		o->wire.reserve = number(name, 0, 1 << 20);
		break;
	case O_RESUME:
		o->wire.resume = number(name, 0, 1 << 20);
		break;
	case O_DRAIN:
		o->drain = number(name, 0, 1000000);
		break;
	case O_MEMORY:
		o->memory = number(name, 0, 1 << 30);
		break;
	case O_FULL:
		o->bench.full_close = choice(name, "hold close");
		break;
	case O_OVERRUN:
		o->bench.overrun_stops = choice(name, "lose stop");
		break;
	case O_SAME:
		o->bench.refuse_same = choice(name, "replace refuse");
		break;
	case O_LOSS:
		o->bench.ignore_loss = choice(name, "alarm ignore");
		break;
	case O_ASK_DC1:
		o->bench.ask_once = choice(name, "anew once");
		break;
	}
}

/* upper=TEXT or lower=TEXT */
static void take_word(struct options *o)
{
	size_t n = strcspn(optarg, "=");
	bool upper = n == 5 && !strncmp(optarg, "upper", n);

	if (!optarg[n] || !optarg[n + 1] || (!upper && (n != 5 || strncmp(optarg, "lower", n)))) {
		fprintf(stderr, "bench-control: --channel-word %s: give upper=TEXT or lower=TEXT\n",
		    optarg);
		wrong = true;
		return;
	}
	o->bench.words[upper ? 0 : 1] = optarg + n + 1;
}

static void take_rest(struct options *o, int opt, const char *name)
{
	switch (opt) {
	case O_WORD:
		take_word(o);
		break;
	case O_BATTERY:
		o->battery = true;
		o->store = optarg;
		break;
	case O_STORE:
		o->store = optarg;
		break;
	case O_EOB:
		o->bench.punch.eob = (enum punch_eob)choice(name, "lf crlf lfcrcr");
		break;
	case O_LEADER:
		o->bench.punch.leader = number(name, 0, 1 << 20);
		break;
	case O_TRAILER:
		o->bench.punch.trailer = number(name, 0, 1 << 20);
		break;
	case O_OPERATOR:
		o->desk = optarg;
		break;
	case O_PAUSE:
		o->bench.pause_ns = number(name, 0, 3600000) * 1000000ULL;
		break;
	case O_VERBOSE:
		o->verbose = true;
		break;
	case O_PARENT:
		o->with_parent = true;
		break;
	}
}

static bool complete(struct options *o)
{
	uint64_t second = 1000000000ULL / o->bench.faster;

	if ((o->line >= 0) == (o->upper >= 0 || o->lower >= 0)) {
		fprintf(stderr, "bench-control: give --line, or --line-upper and --line-lower\n");
		return false;
	}
	if (o->line < 0 && (o->upper < 0 || o->lower < 0)) {
		fprintf(stderr, "bench-control: --line-upper and --line-lower go together\n");
		return false;
	}
	if (!o->bench.words[0] != !o->bench.words[1]) {
		fprintf(stderr, "bench-control: --channel-word is given for both channels\n");
		return false;
	}
	if (o->wire.resume == SIZE_MAX)
		o->wire.resume = o->wire.buffer / 4;
	if (o->wire.reserve >= o->wire.buffer ||
	    o->wire.resume >= o->wire.buffer - o->wire.reserve) {
		fprintf(stderr, "bench-control: --reserve and --resume together must leave room in "
		                "--buffer, or the line would be stopped for ever\n");
		return false;
	}
	o->wire.char_ns = second * o->bits / o->baud;
	o->wire.drain_ns = o->drain ? second / o->drain : 0;
	if (!o->wire.char_ns)
		o->wire.char_ns = 1;
	if (!o->bench.dc3)
		o->bench.dc3 = code_send(o->bench.code, CODE_DC3);
	o->bench.pause_ns /= o->bench.faster;
	o->bench.punch.code = o->bench.code;
	return true;
}

int options_read(struct options *o, int argc, char **argv)
{
	int opt, which = 0;

	*o = (struct options){.line = -1,
	    .upper = -1,
	    .lower = -1,
	    .baud = 9600,
	    .bits = 11,
	    .memory = 262144,
	    .wire = {.fifo = 16, .buffer = 1024, .reserve = 256, .resume = SIZE_MAX},
	    .bench = {.code = CODE_ISO,
	        .faster = 1,
	        .pause_ns = 100000000,
	        .punch = {.leader = 50, .trailer = 50}}};
	if (argc > 1 && !strcmp(argv[1], "--ask")) {
		if (argc < 4) {
			fprintf(stderr, "bench-control: --ask OPERATOR COMMAND...\n");
			return 2;
		}
		o->ask = argv + 2;
		return 0;
	}
	while ((opt = getopt_long(argc, argv, "", table, &which)) != -1) {
		if (opt == '?')
			return 2;
		if (opt == O_HELP) {
			fputs(help_text, stdout);
			return 1;
		}
		if (opt <= O_FASTER)
			take_line(o, opt, table[which].name);
		else if (opt <= O_ASK_DC1)
			take_memory(o, opt, table[which].name);
		else
			take_rest(o, opt, table[which].name);
	}
	if (optind < argc) {
		fprintf(stderr, "bench-control: %s: not understood, see --help\n", argv[optind]);
		return 2;
	}
	return wrong || !complete(o) ? 2 : 0;
}
