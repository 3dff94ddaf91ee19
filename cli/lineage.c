#include "lineage.h"

#include <string.h>
#include "ask.h"

int lineage_walk(const json_t *line, const char *channel, const char *revision,
    int (*fn)(void *ctx, const struct lineage_step *step), void *ctx)
{
	const json_t *r;
	const char *last = "";
	json_t *a;
	size_t i, k;

	json_array_foreach(json_object_get(line, "revisions"), i, r)
	{
		json_array_foreach(json_object_get(r, "arrivals"), k, a)
		{
			struct lineage_step step = {ask_string(r, "revision"),
			    ask_string(a, "channel"), ask_string(a, "sha256"), ask_string(a, "path"),
			    ask_string(a, "by"), ask_string(a, "since"), a};
			int result;

			if (strcmp(step.channel, channel) || !strcmp(step.sha256, last))
				continue;
			last = step.sha256;
			result = fn(ctx, &step);
			if (result)
				return result;
		}
		if (revision && !strcmp(ask_string(r, "revision"), revision))
			return 0;
	}
	return 0;
}

size_t lineage_channels(const json_t *line, const char **channel, size_t n)
{
	const json_t *r, *a;
	size_t i, k, found = 0, c;

	json_array_foreach(json_object_get(line, "revisions"), i, r)
	{
		json_array_foreach(json_object_get(r, "arrivals"), k, a)
		{
			for (c = 0; c < found && strcmp(channel[c], ask_string(a, "channel")); c++)
				;
			if (c == found && found < n)
				channel[found++] = ask_string(a, "channel");
		}
	}
	return found;
}

static bool has(const json_t *line, const char *revision)
{
	const json_t *r;
	size_t i;

	json_array_foreach(json_object_get(line, "revisions"), i, r)
	{
		if (!revision || !strcmp(ask_string(r, "revision"), revision))
			return true;
	}
	return false;
}

const json_t *lineage_of(const json_t *history, const char *machine, const char *revision)
{
	const json_t *line, *found = NULL;
	size_t i;

	json_array_foreach(json_object_get(history, "lines"), i, line)
	{
		const char *area = ask_string(line, "machine");

		if (has(line, revision) && (!strcmp(area, machine) || (!*area && !found)))
			found = line;
	}
	return found;
}
