/* The rows of the state tables as plain structs: read and write, nothing decided. Inside the vault
 * only. */
#ifndef VAULT_STATE_H
#define VAULT_STATE_H

#include "db.h"
#include "parts.h"

/*
 * A machine's row. m holds the last certain content. While unsure, the machine may hold something
 * else: from the first step of an order until an outcome says what it holds, or for longer when the
 * outcome is that nobody knows.
 */
struct state_machine {
	struct vault_machine m;
	bool unsure;
	bool unsure_before;                        /* as it was when the order under way began */
	struct vault_part told[YOKE_CHANNELS_MAX]; /* while unsure: what it is believed to hold */
	uint32_t tolds;
	int64_t unsure_us;
	char unsure_by[128];
};

/* One row: 1 found; 0 not, *out is empty but for its key; -1 failed, told. */
int state_machine(struct vault *v, const char *name, struct state_machine *out);
int state_order(struct vault *v, uint64_t id, struct vault_order *out);

/* The row of the pair that was given out on a stick for this machine: as above. */
int state_stick(struct vault *v, const char *machine, struct vault_stick *out);

/* Write a row; of a stick, state VAULT_STICK_NONE removes it. 0; -1 failed, told. */
int state_save_stick(struct vault *v, const char *machine, const struct vault_stick *s);

int state_save_machine(struct vault *v, const struct state_machine *m);
int state_save_order(struct vault *v, const struct vault_order *o);

/* What a person is told: the certain content, or that it is unknown. */
void state_told(const struct state_machine *in, struct vault_machine *out);

/* The row at hand. 0; -1 damaged, told. The columns of each stand below. */
int state_read_machine(struct vault *v, sqlite3_stmt *s, struct state_machine *out);
int state_read_order(struct vault *v, sqlite3_stmt *s, struct vault_order *out);
int state_read_pair(struct vault *v, sqlite3_stmt *s, struct vault_pair *out);
int state_read_slot(struct vault *v, sqlite3_stmt *s, struct vault_slot *out);

#define STATE_MACHINE                                                                              \
	"name,content,job,revision,parts,read_back,proven,drift,locked,offline,abandoned,ord,"     \
	"since_us,asked_by,lock_text,text,has_good,good_job,good_revision,good,good_us,good_by,"   \
	"unsure,unsure_before,told,unsure_us,unsure_by"
#define STATE_ORDER "id,state,act,machine,job,revision,parts,who,step,seq,utc_us,text,rank"
#define STATE_PAIR "area,job,revision,state,verdict,parts,seq,utc_us,who,text"
#define STATE_STICK "machine,state,job,revision,parts,utc_us,who"
#define STATE_SLOT "area,job,revision,channel,path,who,sha,seq"

/* A state's parts as bytes. */
void state_encode(struct parts_bytes *out, const struct vault_part *part, uint32_t count);

#endif
