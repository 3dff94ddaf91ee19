/* The parts of a repair. Inside the vault only. */
#ifndef VAULT_REPAIR_H
#define VAULT_REPAIR_H

#include "endnote.h"
#include "rescue.h"
#include "scrape.h"
#include "yoke/text.h"

struct repair {
	struct scrape *from;
	struct vault *to;
	struct endnote told; /* beside the damaged vault */
	struct rescue_repair *out;
	void (*say)(void *ctx, const char *line);
	void *ctx;
	struct text unsealed; /* entries that name a key and lack the checkpoint that it signed, likewise */
	struct text lost; /* SHA-256 of programs that cannot be saved, as the inside of a JSON list */
};

/* Tell one thing that is lost. */
void repair_say(struct repair *r, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* The longest beginning of the trail that fits, into the new vault; then the checkpoints of that trail. 0;
 * -1 failed, told through to. */
int repair_trail(struct repair *r);

/* Every program that has its SHA-256. 0; -1. */
int repair_programs(struct repair *r);

#endif
