#include "checkpoint.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include "base64.h"
#include "hash.h"

int checkpoint_origin(const uint8_t public[ED25519_PUBLIC], char out[NOTE_NAME_MAX + 1])
{
	struct hash *h = hash_new();
	struct sha sum;
	int n, r;

	if (!h)
		return -1;
	hash_add(h, public, ED25519_PUBLIC);
	r = hash_end(h, &sum);
	hash_free(h);
	n = snprintf(out, NOTE_NAME_MAX + 1, "yoke/");
	for (int i = 0; i < 8 && r == 0; i++)
		n += snprintf(out + n, (size_t)(NOTE_NAME_MAX + 1 - n), "%02x", sum.b[i]);
	return r;
}

void checkpoint_time(int64_t utc_s, char out[CHECKPOINT_TIME_MAX + 1])
{
	const int64_t last = INT64_C(253402300799); /* 9999-12-31T23:59:59Z */
	time_t t = (time_t)(utc_s < 0 ? 0 : utc_s > last ? last : utc_s);
	struct tm tm = {0};

	gmtime_r(&t, &tm);
	strftime(out, CHECKPOINT_TIME_MAX + 1, "%Y-%m-%dT%H:%M:%SZ", &tm);
}

void checkpoint_write(const struct checkpoint *c, struct text *out)
{
	char time[CHECKPOINT_TIME_MAX + 1];

	checkpoint_time(c->utc_s, time);
	text_printf(out, "%s\n%llu\n", c->origin, (unsigned long long)c->size);
	base64_put(out, c->root.b, sizeof(c->root.b));
	text_printf(out, "\nnumber %llu\ntime %s\n", (unsigned long long)c->number, time);
}

/* A line's text after front, without its end; NULL when the line is another. */
static const char *line(const char **s, const char *front, size_t *n)
{
	const char *at = *s, *end = strchr(at, '\n');
	size_t skip = strlen(front);

	if (!end || strncmp(at, front, skip) != 0)
		return NULL;
	*s = end + 1;
	*n = (size_t)(end - at) - skip;
	return at + skip;
}

static uint64_t number(const char *s)
{
	return s ? strtoull(s, NULL, 10) : 0;
}

static int64_t moment(const char *s)
{
	struct tm tm = {0};

	if (!s || !strptime(s, "%Y-%m-%dT%H:%M:%SZ", &tm))
		return 0;
	return (int64_t)timegm(&tm);
}

bool checkpoint_read(const char *s, size_t n, struct checkpoint *out)
{
	unsigned char root[BASE64_LENGTH(YOKE_SHA_SIZE) / 4 * 3];
	char copy[NOTE_MAX + 1];
	const char *at = copy, *part;
	struct text again = {0};
	size_t length;
	bool same;

	*out = (struct checkpoint){0};
	if (n > NOTE_MAX || memchr(s, '\0', n))
		return false;
	memcpy(copy, s, n);
	copy[n] = '\0';
	part = line(&at, "", &length);
	if (!part || length == 0 || length > NOTE_NAME_MAX)
		return false;
	memcpy(out->origin, part, length);
	out->size = number(line(&at, "", &length));
	part = line(&at, "", &length);
	if (!part || length != BASE64_LENGTH(YOKE_SHA_SIZE) ||
	    base64_read(part, length, root) != YOKE_SHA_SIZE)
		return false;
	memcpy(out->root.b, root, sizeof(out->root.b));
	out->number = number(line(&at, "number ", &length));
	out->utc_s = moment(line(&at, "time ", &length));
	/* There is one way to write it, and nothing else is taken. */
	checkpoint_write(out, &again);
	same = !again.failed && again.n == n && memcmp(again.s, s, n) == 0;
	text_free(&again);
	return same;
}
