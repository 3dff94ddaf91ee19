/*
 * Goal: each fault of line and control, in both directions and over each kind of line, ends in its
 * named outcome, says what the channel holds and how the machine is marked; and "compared" is never
 * said of a program that the control does not hold to the byte. Where nothing is read back a fault
 * may be one that nobody can see: the table says which, and what is said then.
 *
 * The carrier is the real one, the control the bench control, which shares no rule with it. Usage:
 * one kind of line by its number, so that they run beside one another.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>
#include "bed.h"
#include "bridge.h"
#include "mark.h"

enum { SIZE = 1500, ROUNDS = 6 };

static const char *const kinds[] = {"raw TCP", "RFC 2217", "a local port"};
static enum bridge_kind kind;

static char text[BED_TEXT];
static uint8_t iso[BED_TEXT];
static struct bed bed;
static struct rig rig;

/* What is said at the end. */
struct end {
	enum carry_error error;
	enum carry_held held;
	enum event_kind mark;
};

#define DONE                                                                                       \
	{                                                                                          \
		CARRY_ERROR_NONE, CARRY_HELD_NEW, EVENT_CARRIED                                    \
	}
#define OTHER                                                                                      \
	{                                                                                          \
		CARRY_ERROR_DIFFERS, CARRY_HELD_OTHER, EVENT_SPLIT                                 \
	}
#define UNREAD                                                                                     \
	{                                                                                          \
		CARRY_ERROR_NOTHING, CARRY_HELD_NEW, EVENT_CARRIED                                 \
	}
#define STALL                                                                                      \
	{                                                                                          \
		CARRY_ERROR_STALL, CARRY_HELD_STUMP, EVENT_SPLIT                                   \
	}
#define LOST                                                                                       \
	{                                                                                          \
		CARRY_ERROR_LOST, CARRY_HELD_STUMP, EVENT_SPLIT                                    \
	}
#define UNPLUGGED                                                                                  \
	{                                                                                          \
		CARRY_ERROR_UNPLUGGED, CARRY_HELD_STUMP, EVENT_SPLIT                               \
	}
#define DROPPED                                                                                    \
	{                                                                                          \
		CARRY_ERROR_DROPPED, CARRY_HELD_STUMP, EVENT_SPLIT                                 \
	}
#define BREAK                                                                                      \
	{                                                                                          \
		CARRY_ERROR_BREAK, CARRY_HELD_STUMP, EVENT_SPLIT                                   \
	}
#define ALARM                                                                                      \
	{                                                                                          \
		CARRY_ERROR_ALARM, CARRY_HELD_UNKNOWN, EVENT_UNKNOWN                               \
	}
#define NO_START                                                                                   \
	{                                                                                          \
		CARRY_ERROR_NO_START, CARRY_HELD_OLD, EVENT_KEPT                                   \
	}
#define DAMAGED                                                                                    \
	{                                                                                          \
		CARRY_ERROR_DAMAGED, CARRY_HELD_NEW, EVENT_UNKNOWN                                 \
	}
#define BACK_LOST                                                                                  \
	{                                                                                          \
		CARRY_ERROR_LOST, CARRY_HELD_NEW, EVENT_CARRIED                                    \
	}
#define BACK_UNPLUGGED                                                                             \
	{                                                                                          \
		CARRY_ERROR_UNPLUGGED, CARRY_HELD_NEW, EVENT_CARRIED                               \
	}
#define BACK_BREAK                                                                                 \
	{                                                                                          \
		CARRY_ERROR_BREAK, CARRY_HELD_NEW, EVENT_CARRIED                                   \
	}
#define ALL(e)                                                                                     \
	{                                                                                          \
		e, e, e                                                                            \
	}

static const struct trouble {
	const char *name;
	struct end end[BRIDGE_KINDS];
	const char *command;    /* to the bench control; NULL: none */
	const char *parity;     /* what its port does with wrong characters; NULL: an alarm */
	struct bridge_fault on; /* the way; for kinds that have one */
	uint32_t reserve;       /* of ours, 0: one that fits */
	enum line_flow flow;
	bool hasty;  /* nothing is waited for long */
	bool watch;  /* DSR is watched, where it can be */
	bool rests;  /* the control is not set to read */
	bool alarms; /* it tells its alarms over the line */
	bool bridge; /* there is no such thing over raw TCP */
	/* Without read-back it counts as carried, and nobody can know better. */
	bool unseen;
} troubles[] = {
    {"none", ALL(DONE), .unseen = true},
    {"a character lost on the way", ALL(OTHER), .command = "drop 100", .unseen = true},
    {"a character doubled", ALL(OTHER), .command = "double 100", .unseen = true},
    {"wrong parity: an alarm", ALL(STALL), .command = "noise 103"},
    {"wrong parity: let pass", ALL(OTHER), .command = "noise 103", .parity = "pass",
        .unseen = true},
    {"wrong parity: dropped", ALL(OTHER), .command = "noise 103", .parity = "drop", .unseen = true},
    {"wrong parity: replaced", ALL(OTHER), .command = "noise 103", .parity = "replace",
        .unseen = true},
    {"an alarm told, and all taken", ALL(ALARM), .command = "noise 103", .alarms = true,
        .flow = LINE_FLOW_NONE},
    {"an alarm told, and it stops", ALL(STALL), .command = "noise 103", .alarms = true},
    {"memory full", ALL(STALL), .command = "memory 200"},
    {"DC3 for ever", ALL(STALL), .command = "hold after 100"},
    {"overrun: our reserve is more than its own", ALL(UNREAD), .reserve = 4000, .unseen = true},
    {"power gone, nobody tells", {LOST, UNREAD, UNREAD}, .command = "power off after 100",
        .unseen = true},
    {"power gone, DSR watched", {LOST, DROPPED, DROPPED}, .command = "power off after 100",
        .watch = true},
    {"never set to read", ALL(NO_START), .rests = true},
    {"line or adapter gone", {LOST, LOST, UNPLUGGED}, .on = {.pull_sent = 300}, .bridge = true},
    {"a break", {DONE, BREAK, BREAK}, .on = {.break_sent = 300}, .bridge = true},
    /* The way back: the control has the program. */
    {"back: a character lost", ALL(OTHER), .command = "punching drop 200"},
    {"back: a character doubled", ALL(OTHER), .command = "punching double 200"},
    {"back: a wrong bit", ALL(DAMAGED), .command = "punching noise 203"},
    {"back: a wrong bit, dropped untold", {DAMAGED, OTHER, OTHER}, .command = "punching noise 203",
        .on = {.untold = true}},
    {"back: silence in the middle", ALL(DAMAGED), .command = "punching silent 200"},
    {"back: power gone", {BACK_LOST, DAMAGED, DAMAGED}, .command = "punching power-off 200"},
    {"back: hung up", {BACK_LOST, DAMAGED, DAMAGED}, .command = "punching hang-up 200"},
    {"back: line or adapter gone", {BACK_LOST, BACK_LOST, BACK_UNPLUGGED}, .on = {.pull_back = 200},
        .bridge = true},
    {"back: a break", {DONE, BACK_BREAK, BACK_BREAK}, .on = {.break_back = 200}, .bridge = true},
    {"back: our end overrun", {OTHER, DAMAGED, DAMAGED}, .on = {.blind_back = 200}, .bridge = true},
};

static void start(const struct trouble *t, bool read_back)
{
	const char *options[] = {"--line", "0", "--speed", "115200", "--drain", "2000", "--buffer",
	    "1024", "--reserve", "700", "--pause", "50", "--parity",
	    t->parity ? t->parity : "alarm", NULL};

	bed = (struct bed){0};
	bed_text(text, iso, SIZE);
	bed_start(&bed, options);
	assert_true(!t->command || bed_ask(&bed, t->command));
	assert_true(!read_back || bed_ask(&bed, "auto punch upper"));
	assert_true(t->rests || bed_ask(&bed, "read upper"));
	assert_true(bed_ask(&bed, t->alarms ? "alarms on" : "alarms off"));
}

/* One program to the upper channel. */
static void carry(const struct trouble *t, bool read_back)
{
	enum carry_error ends = t->end[kind].error;
	struct line *l;

	rig_open(&rig, CARRY_SEND);
	rig_program(&rig, 0, text);
	rig.order.items = 1;
	l = &rig.order.item[0].line;
	*l = (struct line){.kind = LINE_SERIAL};
	l->serial.baud = 115200;
	l->serial.framing = LINE_7E2;
	l->serial.code = kind == BRIDGE_RAW ? LINE_CODE_ISO : LINE_CODE_ASCII;
	l->serial.flow = t->flow;
	l->serial.watch = t->watch && kind != BRIDGE_RAW ? LINE_WATCH_DSR : LINE_WATCH_NONE;
	l->serial.wait_dc1 = true;
	l->serial.reserve = t->reserve ? t->reserve : 64;
	l->serial.read_back = read_back ? LINE_READ_BACK_PUNCH : LINE_READ_BACK_NONE;
	l->serial.open_ms = 5000;
	/* What is waited for in vain is waited for shortly, everything else as a busy machine
	 * needs. */
	l->serial.first_ms = t->hasty || ends == CARRY_ERROR_NO_START ? 1500 : 30000;
	l->serial.stall_ms = t->hasty || ends == CARRY_ERROR_STALL ? 800 : 30000;
	l->serial.read_back_ms = t->hasty || ends == CARRY_ERROR_NOTHING ? 2500 : 30000;
	l->serial.silence_ms = 1500;
	bridge_open(kind, bed.ports[0], &t->on, &rig);
	rig_run(&rig);
	bridge_close();
	assert_true(rig.has_outcome);
}

/* True when the control has the program to the byte. */
static bool there(void)
{
	(void)bed_ask(&bed, "power on");
	return bed_ask(&bed, "show upper") && !strcmp(bed.answer, text);
}

static void ends_in(const struct trouble *t, const struct end *want, bool read_back)
{
	const struct carry_outcome *o = &rig.outcome;
	const struct carry_channel *c = &o->channel[0];
	enum event_kind mark = mark_of(&rig.order, o);

	if (o->error != want->error || c->held != want->held || mark != want->mark)
		fail_msg("%s, %s, %s: outcome %u, held %u, mark %u: %s", kinds[kind], t->name,
		    read_back ? "read back" : "not read back", o->error, c->held, mark, o->text);
	assert_int_equal(strstr(o->text, "the control said 'ALARM parity'") != NULL, t->alarms);
	assert_int_equal(c->compared, read_back && want->error == CARRY_ERROR_NONE);
	assert_true(!c->compared || there());
	/* A stop in the middle names byte and block. */
	if (c->held == CARRY_HELD_STUMP) {
		assert_non_null(strstr(o->text, " bytes, in block "));
		assert_in_range(c->bytes, 1, strlen(text) - 1);
		assert_false(there());
	}
	if (!read_back && want->error == CARRY_ERROR_NONE)
		assert_non_null(strstr(o->text, "they were not read back"));
}

static void each_trouble(void **state)
{
	static const struct end done = DONE;

	for (size_t i = 0; i < sizeof(troubles) / sizeof(*troubles); i++) {
		const struct trouble *t = &troubles[i];

		for (int read_back = 1; read_back >= !t->unseen; read_back--) {
			if (t->bridge && kind == BRIDGE_RAW)
				continue;
			start(t, read_back);
			carry(t, read_back);
			/* Over raw TCP the connection goes with the power: that is seen. */
			ends_in(t,
			    read_back || t->end[kind].error == CARRY_ERROR_LOST ? &t->end[kind]
			                                                        : &done,
			    read_back);
			rig_close(&rig);
			bed_stop(&bed);
			bed_remove(&bed);
		}
	}
}

/* Wrong bits by chance, both ways: whatever it ends in, done means that it is there. */
static void wrong_bits(void **state)
{
	static const struct trouble none = {"wrong bits", ALL(DONE), .hasty = true};
	unsigned done = 0;

	for (unsigned i = 0; i < ROUNDS; i++) {
		start(&none, true);
		assert_true(bed_ask(&bed, i % 2 ? "errors 40000" : "errors 4000"));
		carry(&none, true);
		if (rig.outcome.error == CARRY_ERROR_NONE) {
			assert_true(there());
			assert_int_equal(rig.outcome.channel[0].compared, 1);
			done++;
		}
		rig_close(&rig);
		bed_stop(&bed);
		bed_remove(&bed);
	}
	print_message("[  kinds   ] one bit in 4000 or 40000 wrong: done %u of %u\n", done, ROUNDS);
}

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(each_trouble),
	    cmocka_unit_test(wrong_bits),
	};

	kind = (enum bridge_kind)(argc > 1 ? atoi(argv[1]) : BRIDGE_RAW);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
