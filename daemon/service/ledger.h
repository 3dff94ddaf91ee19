/*
 * Recording what happens: one call puts an event into the vault and, once it is durable, tells
 * everyone who follows.
 */
#ifndef LEDGER_H
#define LEDGER_H

#include <jansson.h>
#include <stdint.h>
#include "vault.h"
#include "yoke/event.h"

struct api;
struct ledger;

/* NULL without memory. The vault must outlive it. */
struct ledger *ledger_new(struct vault *v);
void ledger_free(struct ledger *l);

/* Where durable events are told; NULL: nowhere. */
void ledger_tell(struct ledger *l, struct api *a);

/* Record one event of this kind, now. Its seq, or 0 when it was not recorded: ledger_error says
 * why. */
uint64_t ledger_record(struct ledger *l, enum event_kind kind, const char *who, const char *from,
    const struct vault_about *a);

/* Several records as one: nothing of it is told before the commit, nothing at all after a rollback.
 * No nesting. */
int ledger_begin(struct ledger *l);
int ledger_commit(struct ledger *l);
void ledger_rollback(struct ledger *l);

const char *ledger_error(const struct ledger *l);

/* An event as JSON, as the API and `yoke audit --json` show it. hash may be NULL. New reference,
 * NULL without memory. */
json_t *ledger_json(const struct event *e, const struct sha *hash);

/* RFC 3339 in UTC with microseconds: 2031-04-05T06:07:08.000009Z. out holds 32 bytes. */
void ledger_time(int64_t utc_us, char out[32]);

#endif
