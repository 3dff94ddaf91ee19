/* Judging a pair: which programs are there, what the check says, held or released. */
#ifndef JUDGE_H
#define JUDGE_H

#include "exam.h"
#include "inside.h"

/* A program whose bytes are in the vault, within the open transaction. */
struct judge_arrival {
	const char *area; /* the machine in whose folder it lies, or "" */
	const char *path; /* below the watched folder */
	const char *who;  /* the file's owner */
	const struct sha *sha;
	struct program *program; /* read and finished with the area's profile */
	const struct intake_file *file;
};

/* What was decided, for the verdict beside the programs. */
struct judgement {
	bool told; /* something was decided */
	bool released;
	uint64_t event; /* of the decision; 0 with a revision that is not known */
	char area[YOKE_NAME_MAX + 1], job[YOKE_NAME_MAX + 1], revision[YOKE_NAME_MAX + 1];
	char *text;     /* findings, summary and ladder, for a person */
	json_t *report; /* the same for a program (report_json.h) */
};

/*
 * Record the arrival, judge its pair with what else is there, and record held or released; queue
 * what the machine's on_release asks for. 0; -1 when something was not recorded: the caller rolls
 * the transaction back. Free *out.
 */
int judge_arrival(struct service *s, const struct judge_arrival *in, struct judgement *out);

/*
 * Judge the pair of a program that is in the vault already, since the configuration is another than
 * the one under which it was decided. Records only what comes out otherwise. As judge_arrival.
 */
int judge_under_new_rules(struct service *s, const struct judge_arrival *in, struct judgement *out);

/*
 * Word the decision that stands on the pair of a program that is in the vault already, for a
 * verdict that was lost. Records nothing; nothing is told when the check would decide otherwise
 * today. 0, -1. Free *out.
 */
int judge_again(struct service *s, const struct judge_arrival *in, struct judgement *out);

/* Fill the names in j: a program that does not say what it is goes by its file's name. */
void judge_name(struct judgement *j, const struct judge_arrival *in);
void judge_free(struct judgement *j);

/*
 * Check the programs of a released pair against a machine's own profile, as before sending. 1: may
 * be sent; 0: refused, with the first refusal in why; -1: could not be read, why says so.
 */
int judge_for_machine(struct service *s, const struct vault_pair *pair,
    const struct profile *profile, char *why, size_t n);

#endif
