/*
 * Duties: what a person may be there for. Each request of the API needs one (yoke/api.h); which groups
 * have it says [duties] of yoke.conf.
 */
#ifndef YOKE_DUTY_H
#define YOKE_DUTY_H

/* X(ENUM, name, what whoever has it may do) */
#define DUTY_LIST(X)                                                                               \
	X(LOOK, "look", "ask what is there, and read programs and the trail")                      \
	X(CARRY, "carry", "send, restore, fetch and drip, write and read sticks, order the queue") \
	X(PROVE, "prove", "say that a pair made a good part")                                      \
	X(RELEASE, "release", "drop programs that need nobody else, and withdraw pairs")           \
	X(RELEASE_AGAIN, "release-again", "accept a pair as the second person, or despite a rule") \
	X(KEEP, "keep", "lock and unlock machines, and what belongs to the service itself")

enum duty {
#define X(id, name, why) DUTY_##id,
	DUTY_LIST(X)
#undef X
	    DUTY_COUNT
};

#endif
