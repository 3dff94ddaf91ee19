/* What the parts of the serial carrier share: serial.c the order, serial_load.c one program out,
 * serial_back.c one in. */
#ifndef SERIAL_WORK_H
#define SERIAL_WORK_H

#include "serial.h"
#include "serial_receive.h"

/* A line between two loads: what the control said last decides whether its next DC1 asks for a
 * program. */
struct serial_ear {
	bool gap;   /* a program went before, and it ended with DC3 in force or after its end */
	bool asked; /* DC1 is its last word */
	uint64_t asked_at; /* parent_now() clock */
};

struct serial_work {
	struct job *job;
	struct stream *const *stream;
	struct serial_ear ear[YOKE_CHANNELS_MAX]; /* of the line, at the index of its first item */
	/* Of the line, at the index of its first item: a punched copy that nobody waits for yet, or
	 * NULL. */
	struct serial_receive *copy[YOKE_CHANNELS_MAX];
	bool sent[YOKE_CHANNELS_MAX];
	/* Of a load: characters that came and were no words of the control's, and errors of the
	 * port's. */
	uint32_t unasked[YOKE_CHANNELS_MAX];
	/* Of the line: errors counted before the text that is being received. */
	struct stream_counts before[YOKE_CHANNELS_MAX];
	/* Of the line: times that it was opened again shortly after the time before. */
	unsigned again[YOKE_CHANNELS_MAX];
	uint64_t again_at[YOKE_CHANNELS_MAX]; /* parent_now() clock */
};

/* Index of the first item on the same line. */
uint32_t serial_first(const struct serial_work *w, uint32_t i);

/*
 * The line of item i was lost while nothing was under way: open it again. True when it is there
 * anew; else what went wrong may be told by why.
 */
bool serial_again(struct serial_work *w, uint32_t i, struct fault *why);

/* Send the program of item i when its control asks. The channel is filled; 0, or -1 with the fault
 * set. */
int serial_load(struct serial_work *w, uint32_t i);

/* Wait for the copy of item i that the operator punches, and compare. 0, or -1 with the fault set.
 */
int serial_compare(struct serial_work *w, uint32_t i);

/* Compare the copy that came by itself on the line of item i, if it is complete, with what was sent
 * there before i.
 */
int serial_compare_copy(struct serial_work *w, uint32_t i);

/* A machine that listens on the line of item i for a punched copy. NULL without memory. */
struct serial_receive *serial_listen(const struct serial_work *w, uint32_t i);

/* Hand bytes to the parent in sealed memory, with a word about them. 0, or -1 with the fault set. */
int serial_hand_over(struct job *j, uint32_t i, enum carry_role role, const uint8_t *bytes,
    size_t n, const char *note);

/* Wait for what the operator punches and hand it over: CARRY_FETCH. 0, or -1 with the fault set. */
int serial_fetch(struct serial_work *w, uint32_t i);

#endif
