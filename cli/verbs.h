/*
 * The verbs. One list makes table, help and spelling help; each verb has its file, verb_NAME.c,
 * with two names: int verb_NAME(int argc, char **argv), argv[0] being the verb, which returns an
 * exit status of exit.h; and const char verb_NAME_help[], how it is called, what it does and one
 * worked example.
 */
#ifndef VERBS_H
#define VERBS_H

/* X(name, what it does in one line). Offline verbs need no service. */
#define VERBS_OFFLINE(X)                                                                           \
	X(check, "check the programs of a pair against each other")                                \
	X(ladder, "draw the channels and where they meet")                                         \
	X(setup, "compute the setup sheet of a pair")                                              \
	X(restart, "find blocks at which both channels can be picked up together")                 \
	X(explain, "say what a finding means and what to do")                                      \
	X(change, "tell what differs between two programs, by meaning")                            \
	X(ports, "list the serial ports of this computer and who uses them")                       \
	X(help, "list the verbs, or explain one")

/* Verbs that ask the service, one request each. */
#define VERBS_ONLINE(X)                                                                            \
	X(status, "say whether the service answers, and what lies in its folder")                  \
	X(machines, "show what the machines hold, or everything about one")                        \
	X(jobs, "list the pairs: released or held, and why")                                       \
	X(job, "show a job's revisions with their findings")                                       \
	X(history, "show who changed what of a job, revision by revision")                         \
	X(who, "say who last changed a block")                                                     \
	X(accept, "stand for a pair as the second person, or despite a rule")                     \
	X(withdraw, "let a pair go to no machine any more")                                        \
	X(send, "carry a released pair to a machine")                                              \
	X(restore, "carry a machine's last good pair back")                                        \
	X(drip, "feed one program to a control that executes while it reads")                      \
	X(fetch, "bring programs from a machine and compare them")                                 \
	X(export, "write a released pair on a stick for a machine")                               \
	X(import, "take what came back from a machine on a stick, and compare it")                 \
	X(loaded, "say that a pair from a stick was loaded by hand")                               \
	X(orders, "list the orders that wait or are under way")                                    \
	X(next, "put an order before the others that wait")                                        \
	X(cancel, "end an order")                                                                  \
	X(doubt, "say that it is not known any more what a machine holds")                         \
	X(adopt, "make what was changed at a machine a new revision")                              \
	X(prove, "mark the pair on a machine as proven")                                           \
	X(lock, "send nothing to a machine until it is unlocked")                                  \
	X(unlock, "make sending to a machine possible again")                                      \
	X(audit, "list who did what; verify the trail, prove an entry, report on a job")           \
	X(backup, "write a back-up of the vault while the service runs")                            \
	X(archive, "copy closed years of the trail into a file that proves itself")                      \
	X(keys, "list the public keys of the trail, or make a new one")                            \
	X(follow, "show events as they happen")                                                    \
	X(program, "write a program out of the vault")

#define X(name, line)                                                                              \
	int verb_##name(int argc, char **argv);                                                    \
	extern const char verb_##name##_help[];
VERBS_OFFLINE(X)
VERBS_ONLINE(X)
#undef X

struct verb {
	const char *name, *line, *help;
	int (*run)(int argc, char **argv);
};

/* All verbs, offline ones first; ends with a name of NULL. */
extern const struct verb verbs[];

/* The verb of this name, or NULL with a message and spelling help on stderr. */
const struct verb *verbs_find(const char *name);

/* Run a verb: argv[0] is its name. --help among the arguments prints its help instead. */
int verbs_run(int argc, char **argv);

#endif
