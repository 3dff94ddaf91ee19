/* A pair from texts, for the tests of this folder. Tests end when memory runs out. */
#ifndef PAIR_HELP_H
#define PAIR_HELP_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <string.h>
#include "yoke/pair.h"

struct source {
	const char *file;
	const char *bytes;
	size_t n; /* 0: up to the NUL */
};

struct checked {
	struct profile profile;
	struct program *program[YOKE_CHANNELS_MAX];
	size_t n;
	struct pair_report *report;
};

/* names = {job}.{channel}, header = (REV {rev}), and the rest as it is by default. */
void pair_help_profile(struct profile *p);

/* Set one value; the test fails when it is refused. */
void pair_help_set(struct profile *p, const char *section, const char *key, const char *value);

/* Read one program whole. */
struct program *pair_help_program(const struct profile *p, const struct source *s);

/* Read and check n programs under c->profile, which was set before. */
void pair_help_check(struct checked *c, const struct source *s, size_t n);

/* Check two texts as J4417.UP and J4417.LO under pair_help_profile's profile. */
void pair_help_two(struct checked *c, const char *upper, const char *lower);

void pair_help_free(struct checked *c);

/* How often it was found. */
uint32_t pair_help_seen(const struct checked *c, enum finding_id id);

/* The first finding of this kind; the test fails without. */
const struct finding *pair_help_find(const struct checked *c, enum finding_id id);

/* The test fails unless a finding of this kind has exactly this text. */
void pair_help_text(const struct checked *c, enum finding_id id, const char *text);

/* What ladder_draw makes of it; the caller frees. */
char *pair_help_ladder(const struct checked *c, unsigned width, bool ascii);

#endif
