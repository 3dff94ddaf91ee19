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
	const char *from; /* for events; NULL: "folder" */
};

/* What was decided, for the verdict beside the programs. */
struct judgement {
	bool told; /* something was decided */
	bool released, withdrawn;
	char waits[512]; /* what a pair that the check lets through is held for, "" for nothing */
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

/*
 * Judge a pair that stands, since somebody accepted or withdrew it: who, from. Records only what comes
 * out otherwise. 0; -1 when something was not recorded, or other programs are its newest by now. Free
 * *out.
 */
int judge_anew(struct service *s, const struct vault_pair *pair, const char *who, const char *from,
    struct judgement *out);

/* What the check says of a pair as it stands, with all that was accepted. */
struct judge_view {
	enum verdict verdict;
	uint32_t refuses[FINDING_COUNT]; /* how many findings of each rule refuse it */
	char first[512];                 /* the first of them in words, "" for none */
};

/* 0 and *out; -1 with why. */
int judge_view(struct service *s, const struct vault_pair *pair, struct judge_view *out, char *why, size_t n);

/* Fill the names in j: a program that does not say what it is goes by its file's name. */
void judge_name(struct judgement *j, const struct judge_arrival *in);
void judge_free(struct judgement *j);

/*
 * Check the programs of a released pair against a machine's own profile, as before sending, and whether
 * it has the second person that the machine asks for. 1: may be sent; 0: refused, with the first refusal
 * in why; -1: could not be read, why says so.
 */
int judge_for_machine(struct service *s, const struct vault_pair *pair,
    const struct profile *profile, char *why, size_t n);

#endif
