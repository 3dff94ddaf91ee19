#include "yoke/finding.h"

#include <string.h>

static const struct {
	const char *name;
	enum weight weight;
	const char *why;
} about[FINDING_COUNT] = {
#define X(id, name, weight, why) {name, WEIGHT_##weight, why},
    FINDING_LIST(X)
#undef X
};

static const char *const weight_names[] = {
    [WEIGHT_OFF] = "off",
    [WEIGHT_NOTE] = "note",
    [WEIGHT_WARN] = "warn",
    [WEIGHT_REFUSE] = "refuse",
};

const char *finding_name(enum finding_id id)
{
	return about[id].name;
}

enum weight finding_weight(enum finding_id id)
{
	return about[id].weight;
}

const char *finding_why(enum finding_id id)
{
	return about[id].why;
}

enum finding_id finding_by_name(const char *name)
{
	for (int i = 0; i < FINDING_COUNT; i++)
		if (strcmp(about[i].name, name) == 0)
			return (enum finding_id)i;
	return FINDING_COUNT;
}

const char *finding_weight_name(enum weight w)
{
	return weight_names[w];
}

bool finding_weight_parse(const char *s, enum weight *w)
{
	for (int i = WEIGHT_OFF; i <= WEIGHT_REFUSE; i++) {
		if (strcmp(weight_names[i], s) == 0) {
			*w = (enum weight)i;
			return true;
		}
	}
	return false;
}
