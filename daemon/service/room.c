#include "room.h"

#include <stdio.h>
#include <string.h>
#include <sys/statvfs.h>

enum { LOOK_PULSES = 5 };

static void look(struct service *s)
{
	uint64_t warn = (uint64_t)s->conf->room_warn_mb * 1000000;
	char path[YOKE_PATH_MAX + 32];
	struct statvfs st;
	bool low;

	snprintf(path, sizeof(path), "%s/vault", s->conf->home);
	if (statvfs(path, &st) < 0)
		return;
	s->room.free = (uint64_t)st.f_bavail * st.f_frsize;
	/* A tenth more ends it, so that it is not told again and again. */
	low = s->room.free < (s->room.low ? warn + warn / 10 : warn);
	if (low != s->room.low)
		s->room.told = false;
	s->room.low = low;
}

static void tell(struct service *s)
{
	char text[300];
	struct vault_about about = {.outcome = s->room.low ? "low" : "enough", .text = text};

	room_caution(s, text, sizeof(text));
	if (!s->room.low)
		snprintf(text, sizeof(text), "the disk of the vault has %llu MB left",
		    (unsigned long long)(s->room.free / 1000000));
	if (s->room.low)
		fprintf(stderr, "yoked: %s\n", text);
	s->room.told = ledger_record(s->ledger, s->room.low ? EVENT_ROOM_LOW : EVENT_ROOM_AGAIN,
	                   "service", "service", &about) != 0;
}

static int take_seq(void *ctx, const struct event *e, const struct sha *hash)
{
	*(uint64_t *)ctx = e->seq;
	return 0;
}

/* What the trail says of it. */
static int last_word(struct service *s, bool *low)
{
	static const enum event_kind kind[2] = {EVENT_ROOM_LOW, EVENT_ROOM_AGAIN};
	uint64_t seq[2] = {0, 0};

	for (int i = 0; i < 2; i++) {
		struct vault_filter newest = {.kind = event_name(kind[i]), .limit = 1};

		if (vault_events(s->vault, &newest, take_seq, &seq[i]) < 0)
			return -1;
	}
	*low = seq[0] > seq[1];
	return 0;
}

int room_start(struct service *s)
{
	bool low;

	if (last_word(s, &low))
		return -1;
	s->room.low = low;
	s->room.told = true;
	look(s);
	if (!s->room.told)
		tell(s);
	return 0;
}

void room_pulse(struct service *s)
{
	if (++s->room.pulses % LOOK_PULSES)
		return;
	look(s);
	if (!s->room.told)
		tell(s);
}

void room_caution(const struct service *s, char *out, size_t n)
{
	*out = 0;
	if (s->room.low)
		snprintf(out, n,
		    "the disk of the vault has %llu MB left: make room; when it is full nothing can be "
		    "recorded, and nothing is carried",
		    (unsigned long long)(s->room.free / 1000000));
}
