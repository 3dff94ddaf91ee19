/*
 * Goal: no two to four programs, however they jump, loop, call, wait and signal, trip the proof of
 * their wait codes, or keep it busy for long; what it says does not depend on the order in which
 * the programs are given, or on one meeting more of all at their beginning; and equal programs
 * under common switches never disagree, because all channels may go the same way.
 *
 * A byte stands for a piece of a program, so that nearly every input is one; 01 begins the next.
 */
#include <string.h>
#include <time.h>
#include "input.h"
#include "yoke/pair.h"

/* Seconds for one check under sanitizers, with this many steps for each channel. */
enum { SECONDS_MAX = 20, RUN_MAX = 2000 };

static const char *const piece[] = {"M201\n", "M202\n", "M203\n", "M201 P12\n", "M202 P3\n",
    "M203 P123\n", "M301\n", "M302\n", "M401\n", "M402\n", "/M201\n", "/2 M202\n", "/3 #1=1\n",
    "/GOTO10\n", "#1=0\n", "#1=1\n", "#1=#1+1\n", "#2=#500\n", "#2=#1*3\n", "#[#1]=2\n",
    "IF[#1LT3]GOTO10\n", "IF[#1EQ2]GOTO20\n", "IF[#500GT0]GOTO10\n", "IF[#500EQ1]GOTO20\n",
    "IF[#2NE1]THEN#1=2\n", "IF[#500EQ1]THEN M203\n", "GOTO10\n", "GOTO20\n", "GOTO[#1+10]\n",
    "N10\n", "N20\n", "N11M202\n", "WHILE[#1LT3]DO1\n", "WHILE[#500LT3]DO2\n", "DO3\n", "END1\n",
    "END2\n", "END3\n", "M98P2\n", "M98P3L3\n", "M98P#1L9999\n", "G65P2A#1B2\n", "G65P3L2C#500\n",
    "G66P3A1\n", "G67\n", "X1.\n", "G0X5.Z2.\n", "O2\n", "O3\n", "M99\n", "M99P10\n", "/M99\n",
    "M30\n", "M02\n", "G4X1.\n", "M01\n"};
enum { PIECES = sizeof(piece) / sizeof(piece[0]) };

static void settings(struct profile *p, uint8_t bits, uint8_t dialect)
{
	static const char *const channels[] = {
	    "upper, lower", "upper, lower, third", "upper, lower, third, fourth"};
	struct text why = {0};

	profile_defaults(p);
	must(profile_set(p, "programs", "channels", channels[bits % 3], &why) == PROFILE_OK);
	p->run_max = RUN_MAX;
	p->end_m99 = bits & 4;
	p->skip_separate = bits & 8;
	p->partners = bits & 16 ? PROFILE_PARTNERS_DIGITS : PROFILE_PARTNERS_ALL;
	p->partners_letter = 'P';
	if (bits & 32) {
		p->send[0] = (struct profile_range){301, 309};
		p->receive[0] = (struct profile_range){401, 409};
		p->sends = p->receives = 1;
	}
	p->fix = (enum profile_fix)(dialect % 3);
	p->logic = (enum profile_logic)(dialect / 3 % 4);
	p->truth = (enum profile_truth)(dialect / 12 % 3);
}

static struct program *read_program(
    const struct profile *p, uint32_t channel, const struct input *in, int meetings)
{
	struct text name = {0}, t = {0};
	struct program *program;

	text_printf(&name, "J1-A.%s.nc", p->channel[channel].name);
	text_puts(&t, "%\nO1\n");
	for (int i = 0; i < meetings; i++)
		text_printf(&t, "M%d\n", 210 + i);
	for (size_t i = 0; i < in->left; i++)
		text_puts(&t, piece[in->at[i] % PIECES]);
	text_puts(&t, "%\n");
	must(!name.failed && !t.failed);
	program = program_new(p, name.s);
	must(program && program_feed(program, t.s, t.n) == 0 && program_finish(program) == 0);
	text_free(&name);
	text_free(&t);
	return program;
}

struct answer {
	enum verdict verdict;
	bool cut; /* a bound of the search was met */
};

/* first: the channel whose program is given first. meetings: of all, before anything else. */
static struct answer check(
    const struct profile *p, const struct input *in, uint32_t first, int meetings)
{
	struct program *program[YOKE_CHANNELS_MAX];
	struct pair_report *r;
	struct answer a;
	struct text t = {0};
	clock_t began;

	for (uint32_t c = 0; c < p->channels; c++)
		program[c] = read_program(
		    p, (c + first) % p->channels, &in[(c + first) % p->channels], meetings);
	began = clock();
	r = pair_check(p, program, p->channels);
	must(clock() - began < (clock_t)SECONDS_MAX * CLOCKS_PER_SEC);
	must(r != NULL);
	a.verdict = pair_verdict(r);
	must(a.verdict <= VERDICT_CANNOT_TELL);
	must(!pair_may_release(r) || a.verdict == VERDICT_AGREE);
	a.cut = pair_findings(r)->seen[FINDING_RUN_LONG] > 0 ||
	        pair_findings(r)->seen[FINDING_FLOW_UNFOLLOWED] > 0;
	pair_print_findings(pair_findings(r), &t);
	pair_print_summary(r, &t);
	must(!t.failed);
	must_be_plain(t.s, t.n);
	text_free(&t);
	pair_report_free(r);
	for (uint32_t c = 0; c < p->channels; c++)
		program_free(program[c]);
	return a;
}

static bool all_equal(const struct profile *p, const struct input *in)
{
	for (uint32_t c = 1; c < p->channels; c++)
		if (in[c].left != in[0].left || memcmp(in[c].at, in[0].at, in[0].left) != 0)
			return false;
	return true;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct input in = {data, size}, part[YOKE_CHANNELS_MAX] = {{0}};
	uint8_t bits = input_byte(&in), dialect = input_byte(&in);
	static struct profile p;
	struct answer a, later;

	settings(&p, bits, dialect);
	for (uint32_t c = 0; c < p.channels; c++) {
		part[c] = bits & 64 && c ? part[0] : input_part(&in);
		if (part[c].left > 64)
			part[c].left = 64;
	}
	a = check(&p, part, 0, 0);
	must(check(&p, part, 1, 0).verdict == a.verdict);
	if (!p.sends && !p.skip_separate && p.partners == PROFILE_PARTNERS_ALL &&
	    all_equal(&p, part))
		must(a.verdict != VERDICT_DISAGREE);
	if (p.end_m99)
		return 0; /* it is met again in each round */
	/* a program without any code is not compared with one that has some */
	a = check(&p, part, 0, 1);
	later = check(&p, part, 0, 2);
	must(a.cut || later.cut || later.verdict == a.verdict);
	return 0;
}
