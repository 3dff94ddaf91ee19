/* What events do to what is known of a machine. Pure: rows in, rows out. Inside the vault only. */
#ifndef VAULT_MACHINE_H
#define VAULT_MACHINE_H

#include "state.h"

/* An event from cancelled to drift; o is its order, with id 0 when it has none. */
void machine_carry(struct state_machine *s, const struct vault_order *o, const struct event *e);

/* Proven, locked, unlocked, offline, online, abandoned: what it holds stays. */
void machine_say(struct state_machine *s, const struct event *e);

/* Whether e ends an inspection that has seen the very programs of the certain content. */
bool machine_has_evidence(
    const struct state_machine *s, const struct vault_order *o, const struct event *e);

#endif
