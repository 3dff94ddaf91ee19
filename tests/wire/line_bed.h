/*
 * The machines of the wire at one end of a line, the bench control's reader, memory and punch at
 * the other, the character frames of both between them, and a clock of its own: a load of minutes
 * takes none.
 */
#ifndef LINE_BED_H
#define LINE_BED_H

#include "wire_test.h"
#include <stdbool.h>
#include "code.h"
#include "frame.h"
#include "line.h"
#include "punch.h"
#include "reader.h"
#include "serial_receive.h"
#include "serial_send.h"
#include "yoke/line.h"

struct store;

enum { LINE_BED_CHANNELS = 2, LINE_BED_BUFFER = 64, LINE_BED_CAME = 8192 };

/* All framings, their names by enum line_framing, and the names of codes by enum line_code. */
enum { LINE_BED_FRAMINGS = 6, LINE_BED_CODES = 3 };
extern const enum line_framing line_bed_framings[LINE_BED_FRAMINGS];
extern const char *const line_bed_framing_names[LINE_BED_FRAMINGS];
extern const char *const line_bed_code_names[LINE_BED_CODES];

/* What a port does with a character that it finds wrong. */
enum line_bed_wrong {
	LINE_BED_TOLD = 0, /* it comes, and is told: an alarm at the control, counted at ours */
	LINE_BED_PASSED,   /* it comes as any other */
	LINE_BED_DROPPED,  /* it does not come */
	LINE_BED_REPLACED, /* a ? comes */
};

/* What happens to a tape that the control punches; counted in characters, from 1. 0: nothing. */
struct line_bed_back {
	uint64_t drop;  /* this one gets lost */
	uint64_t twice; /* ... comes twice */
	uint64_t turn;  /* ... has its two lowest bits turned over */
	uint64_t flip;  /* ... has one bit turned over */
	uint64_t cut;   /* behind it nothing comes any more: switched off, or broken off */
	uint64_t gone;  /* behind it our connection or adapter is gone */
	uint64_t blind; /* from it on nobody at our end looks, for so many: an overrun */
	uint64_t blind_n;
	bool shifts; /* EIA: UC in front of each block, LC behind it */
};

/* How the control is set, and what is wrong with it and the line. 0: nothing. */
struct line_bed_control {
	enum line_framing framing;
	enum code code;
	enum punch_eob eob;
	bool words;      /* it brakes with DC3 and DC1 */
	bool ready_line; /* it brakes with its ready line */
	bool asks;       /* it says DC1 when it is set to read */
	bool slow;       /* it takes a character in twice the line's time */
	size_t memory;   /* of a channel, bytes */
	bool deaf;       /* never set to read */
	uint64_t drop;   /* this character of a load gets lost, from 1 */
	uint64_t twice;  /* ... is taken twice */
	uint64_t turn;   /* ... has its two lowest bits turned over: parity does not show it */
	uint64_t hold;   /* after so many characters it says stop for ever */
	uint64_t power;  /* after so many it has no power */
	uint64_t flip;   /* ... has one bit turned over */
	uint64_t cut_at; /* with this one, cut() happens to our sender */
	void (*cut)(struct serial_send *s, uint64_t now);
	uint64_t noise; /* one bit in so many is wrong, both ways */
	bool mute;      /* its stops do not reach us */
	enum line_bed_wrong its_port, our_port;
	struct line_bed_back back;
	/* By which it knows its channels, whichever of them its operator selected; NULL: he selects. */
	const char *channel_word[LINE_BED_CHANNELS];
};

struct line_bed {
	struct line_serial set; /* ours */
	struct line_bed_control control;
	uint64_t now; /* ms */
	uint32_t seed;
	struct serial_send *send;
	/* the control */
	struct line *line;
	struct line_counts counts; /* of the newest load */
	struct store *store[LINE_BED_CHANNELS];
	struct reader reader;
	unsigned channel; /* that it reads into */
	bool reading, dead;
	const char *alarm;           /* how its newest load ended: NULL well */
	uint64_t loads;              /* that ended well */
	uint64_t heard, taken;       /* characters of this load: off the wire, and read */
	uint64_t fed, arrived;       /* characters since the beginning */
	uint8_t came[LINE_BED_CAME]; /* what the control's port received since the load began */
	size_t came_n;
	uint64_t wrong; /* frames that our port found wrong */
};

/* A line between our settings and a control that is set to fit. */
struct line_bed_control line_bed_fitting(const struct line_serial *set);

/* Set up, time 0. Fails the test without memory. */
void line_bed_init(
    struct line_bed *b, const struct line_serial *set, const struct line_bed_control *control);
void line_bed_end(struct line_bed *b);

/* We send a program to a channel, whose operator sets it to read a second later. */
void line_bed_load(struct line_bed *b, unsigned channel, const char *program, size_t n);

/* Until each sender has ended, each line on its own clock. Gives what they say; the senders are
 * gone then. */
void line_bed_run(struct line_bed *const *beds, size_t n, struct serial_send_outcome *outcomes);

/*
 * The operator punches what came with the newest load of a channel, nothing when there is nothing;
 * we listen to the end. Returns the receiver, which the caller frees.
 */
struct serial_receive *line_bed_punch(struct line_bed *b, unsigned channel);

#endif
