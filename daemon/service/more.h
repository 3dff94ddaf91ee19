/*
 * Programs that came over a line in one stream with others. All are kept and told; of those that
 * were fetched, the ones that were carried there are found by their numbers, and are the channel's
 * copy.
 */
#ifndef MORE_H
#define MORE_H

#include "inside.h"

/* What a stream turned out to be, for one channel of a fetch. */
enum more_kind {
	MORE_NONE = 0, /* one program, or nothing to choose by: the copy is what came */
	MORE_CHOSEN,   /* the copy is what was carried there, in whatever form it came now */
	MORE_ABSENT,   /* nothing of what was carried there came: the copy is what came */
	MORE_TWICE,    /* which of two it is cannot be told: there is no copy */
	MORE_UNREAD,   /* too large to look into, or not readable: the copy is what came */
};

struct more_found {
	enum more_kind kind;
	char text[400]; /* CHOSEN: what of it did not come, or ""; ABSENT, TWICE, UNREAD: what that
	                   is */
};

/* Forget them: a new order begins, or the service ends. */
void more_forget(struct service_machine *m);

/* Remember one that was taken into the vault. */
void more_note(struct service_machine *m, const struct carry_content *c);

/* Choose each channel's copy (m->copy) among what was fetched, and take it into the vault. */
void more_choose(
    struct service *s, struct service_machine *m, struct more_found found[YOKE_CHANNELS_MAX]);

/* An event for each that is no copy. Inside ledger_begin. */
void more_record(struct service *s, const struct service_machine *m);

/* Add to a sentence in text (size bytes) which others came, and what was left out. */
void more_say(
    const struct service_machine *m, const struct carry_outcome *o, char *text, size_t size);

#endif
