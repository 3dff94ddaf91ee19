#include "yoke/change.h"

static const struct {
	const char *name;
	enum weight weight;
} kinds[CHANGE_COUNT] = {
#define X(id, name, weight, why) {name, WEIGHT_##weight},
    CHANGE_LIST(X)
#undef X
};

const char *change_name(enum change_kind k)
{
	return kinds[k].name;
}

enum weight change_weight(enum change_kind k)
{
	return kinds[k].weight;
}

const char *change_sameness_name(enum change_sameness s)
{
	static const char *const names[] = {
	    [CHANGE_SAME_BYTES] = "same bytes",
	    [CHANGE_SAME_TEXT] = "same text",
	    [CHANGE_SAME_MEANING] = "same meaning",
	    [CHANGE_DIFFERENT] = "different",
	};

	return names[s];
}
