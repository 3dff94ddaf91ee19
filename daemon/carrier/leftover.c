#include "leftover.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char *const ending[LEFTOVER_COUNT] = {".part", ".copy", ".old", ".none"};

void leftover_name(char name[LEFTOVER_NAME], const char *hide, uint64_t order, uint32_t try,
    const char *channel, enum leftover_kind kind)
{
	char attempt[16] = "";

	if (try)
		snprintf(attempt, sizeof attempt, ".%08" PRIx32, try);
	snprintf(name, LEFTOVER_NAME, "%syoke-%" PRIu64 "%s-%s%s", hide, order, attempt, channel,
	    ending[kind]);
}

bool leftover_parse(const char *name, struct leftover *out)
{
	const char *at = name + (*name == '.'), *dot = strrchr(name, '.');
	unsigned kind = 0;
	char *end;

	if (strlen(name) >= LEFTOVER_NAME || strncmp(at, "yoke-", 5) != 0 || at[5] < '0' ||
	    at[5] > '9')
		return false;
	errno = 0;
	out->order = strtoull(at + 5, &end, 10);
	if (errno)
		return false;
	if (*end == '.' && strspn(end + 1, "0123456789abcdef") == 8)
		end += 9;
	if (*end != '-' || dot <= end + 1)
		return false;
	while (kind < LEFTOVER_COUNT && strcmp(dot, ending[kind]) != 0)
		kind++;
	if (kind == LEFTOVER_COUNT)
		return false;
	out->kind = kind;
	out->channel = (size_t)(end + 1 - name);
	strcpy(out->name, name);
	return true;
}

bool leftover_of(const struct leftover *l, const char *channel)
{
	size_t n = strlen(channel);

	return !strncmp(l->name + l->channel, channel, n) &&
	       !strcmp(l->name + l->channel + n, ending[l->kind]);
}
