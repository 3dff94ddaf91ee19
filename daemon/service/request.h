/* A request about a machine that would change something: what all of them look at, and refusals. */
#ifndef REQUEST_H
#define REQUEST_H

#include "inside.h"

#define CAUTION                                                                                    \
	"Prove out every new, changed or restored pair: single block, rapid override low, guard "  \
	"closed, hand at feed "                                                                    \
	"hold. Check work offsets and tool offsets of both channels. Follow the machine "          \
	"builder's manual, the shop's "                                                            \
	"rules and local regulations; trained and authorised persons only."

/* What was asked, for whom and about which machine. */
struct request {
	struct service *s;
	const struct api_call *call;
	struct api_reply *reply;
	struct service_machine *m;
	struct vault_machine held;
	const char *act;
	const char *job, *revision;
};

/* The machine named in the path and what it holds. act: the verb, for the trail. 0, or -1 and the reply
 * is filled. */
int request_begin(struct request *r, void *service, const struct api_call *call,
    struct api_reply *reply, const char *act);

/* Answer with this error, and record the refusal. */
void request_refuse(struct request *r, unsigned status, const char *name, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

/* Answer that the vault did not take what was to be recorded. */
void request_not_recorded(struct request *r);

/* A string of the body, or NULL. A value of another type is refused. 0, -1. */
int request_string(struct request *r, const char *key, const char **out);

/* The machine is not locked. 0, -1. */
int request_unlocked(struct request *r);

/* It has a line, and is not one that a person carries programs to. 0, -1. */
int request_has_line(struct request *r);

/* What holds for every order that puts something on a machine. 0, -1. */
int request_may_carry(struct request *r);

/* Job and revision of the body; without a job it is refused. 0, -1. */
int request_job(struct request *r);

/*
 * The released pair that the request's job and revision mean for this machine, judged once more by
 * the machine's own profile; *pair must outlive r, whose revision is its. 0, -1 refused.
 */
int request_pair(struct request *r, struct vault_pair *pair);

/* None of these programs was withdrawn: a last good pair may have been since. 0, -1 refused. */
int request_not_withdrawn(struct request *r, const char *job, const char *revision,
    const struct vault_part *part, uint32_t parts);

/* Parts of the vault as parts of an event: what shall be there. Their number. */
uint32_t request_parts(const struct vault_part *from, uint32_t n, struct event_part *to);

/* Record an event about the machine, and answer with the machine. more: what else there is to say,
 * or NULL. */
void request_record(
    struct request *r, enum event_kind kind, const char *note, const struct vault_about *more);

#endif
