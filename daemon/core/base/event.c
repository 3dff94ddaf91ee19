#include <string.h>
#include "yoke/event.h"

static const struct {
	const char *name, *why;
} kinds[EVENT_COUNT] = {
#define X(id, name, why) [EVENT_##id] = {name, why},
    EVENT_LIST(X)
#undef X
};

const char *event_name(enum event_kind k)
{
	return (unsigned)k < EVENT_COUNT ? kinds[k].name : "?";
}

const char *event_why(enum event_kind k)
{
	return (unsigned)k < EVENT_COUNT ? kinds[k].why
	                                 : "an event that this version does not know";
}

enum event_kind event_by_name(const char *name)
{
	unsigned k = 0;

	while (k < EVENT_COUNT && (!name || strcmp(kinds[k].name, name) != 0))
		k++;
	return k;
}
