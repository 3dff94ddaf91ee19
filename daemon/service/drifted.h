/* What a machine that has drifted holds now, as the trail tells it. */
#ifndef DRIFTED_H
#define DRIFTED_H

#include "inside.h"
#include "yoke/finding.h"

struct drifted {
	/* Of each channel of the machine's pair: what it holds now; not present: it is gone. A channel
	 * of which nothing was told holds what was carried there. */
	struct vault_part part[YOKE_CHANNELS_MAX];
	bool changed[YOKE_CHANNELS_MAX];
	char holds[YOKE_CHANNELS_MAX][YOKE_NAME_MAX + 1]; /* the other channel whose program it is, or "" */
	uint32_t parts;
	enum weight weight; /* of the heaviest difference */
	bool empty;         /* no channel holds anything: such as a control that was replaced */
	bool wrong;         /* a channel holds another one's program */
	int64_t utc_us;     /* when it was told first */
};

/* held: the machine, which has drifted. 0; -1 when the trail cannot be read. */
int drifted_now(struct service *s, const struct vault_machine *held, struct drifted *out);

/* The same as JSON: {parts: [{channel, sha256 or null, changed, holds?}], weight, empty, wrong, since, by}. */
json_t *drifted_json(const struct drifted *d);

#endif
