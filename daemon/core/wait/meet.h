/* Which of the channels that stand can go on together. */
#ifndef WAIT_MEET_H
#define WAIT_MEET_H

#include "wait.h"

enum { WAIT_SIGNALS_MAX = 256 };

/* Signals sent and not yet used up, by code of the receiver and receiving channel. Zero-initialise.
 */
struct wait_signals {
	struct wait_signal {
		uint32_t code;
		uint8_t channel;
		uint32_t count;
	} v[WAIT_SIGNALS_MAX];
	size_t n;  /* sorted, no counts of 0 */
	bool full; /* there was no room for one */
};

/*
 * code[i]: where channel i stands, NULL when it does not (it has ended, or is not known); n
 * channels; channel i is channel number[i] of the machine, from 0. Returns the set of i that go on
 * now, 0 when none can: one meeting of all its partners, or one send or receive. Where several are
 * possible they do not touch each other, and the first is taken. Signals are brought up to date.
 */
uint32_t wait_meet(const struct profile *profile, const struct wait_code *const *code, size_t n,
    const int *number, struct wait_signals *signals);

/* True when two codes to meet at are one meeting: the same code and the same partners. */
bool wait_meet_same(const struct profile *profile, const struct wait_code *a, int number_a,
    const struct wait_code *b, int number_b);

/* The code that sends what this one waits for; 0 when none does. */
uint32_t wait_meet_sender(const struct profile *profile, uint32_t receive);

/* The partners of a code in channel number, itself included, as a set of machine channels. */
uint32_t wait_meet_partners(
    const struct profile *profile, const struct wait_code *code, int number);

#endif
