#include "manifest.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include "conf_line.h"
#include "drip.h"
#include "exam.h"
#include "fat_name.h"
#include "save.h"
#include "with_ends.h"
#include "written.h"

static int put(char *out, size_t *n, const char *s, size_t length)
{
	if (*n + length > YOKE_PATH_MAX)
		return -1;
	memcpy(out + *n, s, length);
	*n += length;
	return 0;
}

int manifest_target(const char *pattern, const char *job, const char *revision, const char *channel,
    uint32_t number, char out[YOKE_PATH_MAX + 1])
{
	char digits[16];
	size_t n = 0;

	snprintf(digits, sizeof(digits), "%04u", number);
	while (*pattern) {
		const char *value = NULL;
		size_t skip = 1;

		if (!strncmp(pattern, "{number}", 8)) {
			value = number ? digits : "";
			skip = 8;
		} else if (!strncmp(pattern, "{job}", 5)) {
			value = job;
			skip = 5;
		} else if (!strncmp(pattern, "{rev}", 5)) {
			value = revision;
			skip = 5;
		} else if (!strncmp(pattern, "{channel}", 9)) {
			value = channel;
			skip = 9;
		}
		if (value && !*value)
			return -1;
		if (put(out, &n, value ? value : pattern, value ? strlen(value) : 1))
			return -1;
		pattern += skip;
	}
	out[n] = '\0';
	for (size_t i = 0; i < n; i++)
		if ((unsigned char)out[i] < 0x20 || out[i] == 0x7f || out[i] == '/')
			return -1;
	return n == 0 || !strcmp(out, ".") || !strcmp(out, "..") ? -1 : 0;
}

int manifest_name(const struct service_machine *m, const struct line *line, const char *job,
    const char *revision, const char *channel, uint32_t number, char out[YOKE_PATH_MAX + 1], char *why,
    size_t n)
{
	const char *fault = NULL;

	if (manifest_target(line->name, job, revision, channel, number, out)) {
		snprintf(why, n,
		    "machine %s, channel %s: the name pattern '%s' gives no name for job %s: a "
		    "value is missing, or the name is not one that a file can have",
		    m->conf->name, channel, line->name, job);
		return -1;
	}
	if (line->upper_case || line->short_names)
		fat_name_upper(out);
	if (line->short_names)
		fault = fat_name_fault(out, true);
	if (!fault)
		return 0;
	snprintf(why, n,
	    "machine %s, channel %s: the program of job %s would be called '%s', which %s: set 'name' in "
	    "[line] to a shorter pattern such as O{number}.NC with a folder for each channel, or "
	    "short_names = no",
	    m->conf->name, channel, job, out, fault);
	return -1;
}

static const struct vault_part *part_find(
    const struct vault_part *part, uint32_t n, const char *channel)
{
	for (uint32_t i = 0; i < n; i++)
		if (!strcmp(part[i].channel, channel))
			return part[i].present ? &part[i] : NULL;
	return NULL;
}

uint32_t manifest_number(
    struct service *s, const struct profile *profile, const char *pattern, const struct sha *sha)
{
	bool wanted = strstr(pattern, "{number}") != NULL;
	struct program *p = wanted ? exam_program(s->vault, profile, "", sha) : NULL;
	uint32_t number = p ? program_number(p) : 0;

	program_free(p);
	return number;
}

/* What the machine is believed to hold counts for this order when it lies under the same name. */
static void fill_expect(struct service *s, const struct service_machine *m,
    const struct vault_machine *held, const struct vault_part *old, struct carry_item *item)
{
	char name[YOKE_PATH_MAX + 1], why[512];

	if (manifest_name(m, &item->line, held->last_job, held->last_revision, item->channel,
	        manifest_number(s, &m->conf->profile, item->line.name, &old->sha), name, why,
	        sizeof(why)) ||
	    strcmp(name, item->target))
		return;
	item->has_expect = true;
	item->expect = old->sha;
}

static int fill_item(struct service *s, const struct service_machine *m,
    const struct vault_order *o, const struct vault_machine *held, const struct vault_part *part,
    struct carry_item *item, char *why, size_t n)
{
	const struct profile *profile = &m->conf->profile;
	int channel = profile_channel_find(profile, part->channel, strlen(part->channel));
	const struct vault_part *old = part_find(held->part, held->parts, part->channel);
	uint32_t number = 0;

	if (channel < 0) {
		snprintf(why, n, "machine %s has no channel %s", m->conf->name, part->channel);
		return -1;
	}
	memcpy(item->channel, part->channel, sizeof(item->channel));
	item->line = m->conf->line[channel];
	if (part->present)
		item->want = part->sha;
	if (item->line.kind == LINE_STICK) {
		snprintf(why, n, "machine %s gets its programs by stick: `yoke export`",
		    m->conf->name);
		return -1;
	}
	if (item->line.kind == LINE_NONE) {
		snprintf(why, n,
		    "machine %s has no line for channel %s: set [line] in its configuration",
		    m->conf->name, part->channel);
		return -1;
	}
	if (!line_is_share(item->line.kind)) {
		item->has_expect = old != NULL;
		item->expect = old ? old->sha : item->expect;
		return 0;
	}
	if (part->present || old)
		number =
		    manifest_number(s, profile, item->line.name, part->present ? &part->sha : &old->sha);
	if (manifest_name(m, &item->line, o->job, o->revision, part->channel, number, item->target, why, n))
		return -1;
	if (old)
		fill_expect(s, m, held, old, item);
	return 0;
}

/* Names that differ by the letters' case alone are one where they are made upper case: what the
 * configuration cannot tell, since it depends on the values. */
static int check_names(
    const struct service_machine *m, const struct carry_order *order, char *why, size_t n)
{
	for (uint32_t i = 0; i < order->items; i++)
		for (uint32_t k = 0; k < i; k++) {
			const struct carry_item *a = &order->item[k], *b = &order->item[i];

			if (!line_is_share(a->line.kind) || strcmp(a->target, b->target) != 0 ||
			    !conf_line_same_place(&a->line, &b->line))
				continue;
			snprintf(why, n,
			    "machine %s: channels %s and %s would be one file there, '%s': put {channel} "
			    "into 'name', or give each its own folder in [line CHANNEL]",
			    m->conf->name, a->channel, b->channel, a->target);
			return -1;
		}
	return 0;
}

int manifest_order(struct service *s, const struct service_machine *m, const struct vault_order *o,
    struct carry_order *order, char *why, size_t n)
{
	struct vault_machine held;

	memset(order, 0, sizeof(*order));
	if (vault_machine(s->vault, m->conf->name, &held) < 0) {
		snprintf(why, n, "%s", vault_error(s->vault));
		return -1;
	}
	order->id = o->id;
	order->running = m->conf->running;
	conf_machine_words(m->conf, order);
	order->act = !strcmp(o->act, "fetch") ? CARRY_FETCH
	             : drip_is(o)             ? CARRY_DRIP
	             : !strcmp(o->act, "dry-run") ? CARRY_TRY
	                                      : CARRY_SEND;
	memcpy(order->machine, o->machine, sizeof(order->machine));
	for (uint32_t i = 0; i < o->parts && i < YOKE_CHANNELS_MAX; i++)
		if (fill_item(s, m, o, &held, &o->part[i], &order->item[order->items++], why, n))
			return -1;
	if (check_names(m, order, why, n))
		return -1;
	written_expect(s, order);
	/* With one channel more, or fewer, than the pair has, the machine would keep a half of
	 * another pair. */
	if ((order->act == CARRY_SEND || order->act == CARRY_TRY) && o->parts != m->conf->profile.channels) {
		snprintf(why, n,
		    "job %s revision %s has programs for %u channels, and machine %s has %u: "
		    "release it for the machine as it is configured now",
		    o->job, o->revision, o->parts, m->conf->name, m->conf->profile.channels);
		return -1;
	}
	if (!order->items) {
		snprintf(why, n, "the order names no channel");
		return -1;
	}
	return 0;
}

struct pour {
	struct service *s;
	struct carry_item *item; /* sum and size become those of what was poured */
	struct with_ends *ends;  /* NULL: as it is */
	int fd, rc;              /* rc: why a piece was not taken */
};

static int pour_out(void *ctx, const void *bytes, size_t n)
{
	return save_all(((struct pour *)ctx)->fd, bytes, n);
}

static int pour_piece(void *ctx, const void *bytes, size_t n)
{
	struct pour *p = ctx;

	p->rc = p->ends ? with_ends_add(p->ends, bytes, n) : save_all(p->fd, bytes, n);
	return p->rc;
}

static int pour(void *ctx, int fd)
{
	struct pour *p = ctx;
	struct sha program = p->item->want;
	int rc;

	p->fd = fd;
	if (p->item->line.eob != LINE_ENDS_AS_IS) {
		p->ends = with_ends_new(p->item->line.eob, pour_out, p);
		if (!p->ends)
			return -ENOMEM;
	}
	rc = vault_program_read(p->s->vault, &program, pour_piece, p);
	if (!rc && p->ends)
		rc = with_ends_done(p->ends, &p->item->want, &p->item->size);
	with_ends_free(p->ends);
	return p->rc ? p->rc : rc;
}

int manifest_programs(
    struct service *s, struct carry_order *order, int fd[YOKE_CHANNELS_MAX], char *why, size_t n)
{
	if (!carry_brings(order->act))
		return 0;
	for (uint32_t i = 0; i < order->items; i++) {
		struct pour p = {.s = s, .item = &order->item[i]};
		int64_t size = vault_program_size(s->vault, &order->item[i].want);

		order->item[i].size = size < 0 ? 0 : (uint64_t)size;
		if (size >= 0)
			fd[i] = dispatch_seal(order->item[i].channel, pour, &p);
		if (fd[i] == -EFBIG) {
			snprintf(why, n,
			    "the program of %s is longer than 1 GiB with the line ends that the "
			    "machine wants (eob in [line])",
			    order->item[i].channel);
			return -1;
		}
		if (fd[i] < 0) {
			snprintf(why, n, "the program of %s cannot be read from the vault: %s",
			    order->item[i].channel, vault_error(s->vault));
			return -1;
		}
	}
	return 0;
}
