/*
 * Refused requests as events, in bounded number. The first of a kind is recorded at once; who asks the
 * same again within a minute is counted, and when the minute is over one more event says how often.
 * More than ten different ones of one person within a minute are counted together, and so is everything
 * beyond 64 of all. What was counted and not told yet is lost when the service is killed.
 */
#ifndef REFUSALS_H
#define REFUSALS_H

#include <stdbool.h>
#include <stdint.h>
#include "vault.h"

struct refusals;

/* Records one event; false when that failed. */
typedef bool refusals_record(
    void *ctx, const char *who, const char *from, const struct vault_about *about);

/* NULL without memory. */
struct refusals *refusals_new(refusals_record *record, void *ctx);

/* A request was refused at this time, in ms of a clock that never goes back. False: it was to be
 * recorded, and was not. */
bool refusals_tell(struct refusals *r, uint64_t now_ms, const char *who, const char *from,
    const struct vault_about *about);

/* Tell what was counted in minutes that are over; to be called about once a second. */
void refusals_due(struct refusals *r, uint64_t now_ms);

/* Tell everything that was counted. */
void refusals_end(struct refusals *r);
void refusals_free(struct refusals *r);

#endif
