/* yoke-carrier by hand: the same order, made from the command line, shown on the error output. */
#include <errno.h>
#include <fcntl.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>
#include "conf_machine.h"
#include "job.h"
#include "load.h"
#include "phase.h"
#include "place.h"
#include "run.h"
#include "save.h"
#include "with_ends.h"

static const char usage[] =
    "usage: yoke-carrier send|fetch|inspect MACHINE.conf [--order N] [--name CHANNEL=NAME]... "
    "CHANNEL=FILE...\n"
    "       yoke-carrier checkpoints PLACE [--new] <NOTES\n"
    "  send     put the programs on the machine, both or neither where the line allows\n"
    "  fetch    bring the programs from the machine into new files\n"
    "  inspect  tell what the machine holds; put the old programs back after an interrupted send\n"
    "  checkpoints  append signed checkpoints of the trail to file:/PATH, syslog: or http(s)://...\n"
    "  --order  the number in the names of temporaries on a share (default 0)\n"
    "  --name   the program's name on a share (default: the name of FILE). It is taken as it is: name,\n"
    "           upper_case and short_names of the machine's file are the service's. eob is applied\n"
    "           to what is sent; what is fetched comes as it lies there.\n"
    "Machines are moved by people, not by this command. Only trained and authorised persons send "
    "programs.\n";

struct hand {
	const struct conf_machine *machine;
	struct carry_order order;
	const char *file[YOKE_CHANNELS_MAX];
	int fd[YOKE_CHANNELS_MAX];
	bool tty, failed;
	unsigned more; /* programs that came with others */
	uint32_t phase; /* last shown */
	struct carry_outcome outcome;
};

static const char *channel_name(const struct hand *h, uint32_t item)
{
	return item < h->order.items ? h->order.item[item].channel : "all";
}

static const char *const step_text[CARRY_STEP_COUNT] = {
#define X(id, name, why) why,
    CARRY_STEP_LIST(X)
#undef X
};

static const char *const error_text[CARRY_ERROR_COUNT] = {
#define X(id, name, passes, text) text,
    CARRY_ERROR_LIST(X)
#undef X
};

static const char *const held_text[] = {"not known: look at the control before the next cycle",
    "what it held before", "the new program", "another program", "nothing",
    "a part of the new program: do not run it"};

static void on_progress(void *ctx, const struct carry_progress *p)
{
	struct hand *h = ctx;
	uint32_t key = p->phase * YOKE_CHANNELS_MAX + p->item + 1;

	if (key != h->phase)
		fprintf(stderr, "%s%s: %s\n", h->tty && h->phase ? "\n" : "",
		    channel_name(h, p->item),
		    phase_text(
		        p->phase, p->item < h->order.items ? &h->order.item[p->item].line : NULL));
	h->phase = key;
	if (h->tty && p->total)
		fprintf(stderr, "\r%" PRIu64 " of %" PRIu64 " bytes, block %" PRIu64 " ", p->bytes,
		    p->total, p->block);
}

static void on_step(void *ctx, const struct carry_step *s)
{
	struct hand *h = ctx;

	fprintf(stderr, "%s: %s\n", channel_name(h, s->item), step_text[s->step]);
}

enum { KEPT_MAX = 1000 }; /* old programs beside one file */

static int copy_out(int fd, uint64_t size, const char *path)
{
	int to = open(path, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666), rc = 0;
	unsigned char *b = NULL;

	if (to < 0)
		return -errno;
	if (size) {
		b = mmap(NULL, size, PROT_READ, MAP_PRIVATE, fd, 0);
		if (b == MAP_FAILED) {
			rc = -errno;
			b = NULL;
		}
	}
	for (uint64_t at = 0; !rc && at < size;) {
		ssize_t n = write(to, b + at, size - at);

		if (n < 0 && errno != EINTR)
			rc = -errno;
		at += n > 0 ? (uint64_t)n : 0;
	}
	if (b)
		munmap(b, size);
	if (fsync(to) && !rc)
		rc = -errno;
	if (close(to) && !rc)
		rc = -errno;
	return rc;
}

/* What came from the machine goes into FILE; what is kept or raw, or came with it, goes beside it,
 * and never over anything. */
static int on_content(void *ctx, const struct carry_content *c, int fd)
{
	static const char *const ending[] = {".before", "", ".raw"};
	struct hand *h = ctx;
	char path[YOKE_PATH_MAX + CARRY_NOTE_MAX + 32];
	size_t n;
	int rc;

	if (c->role == CARRY_ROLE_MORE)
		snprintf(path, sizeof path, "%s.%u%s%s", h->file[c->item], ++h->more,
		    *c->note ? "-" : "", c->note);
	else
		snprintf(path, sizeof path, "%s%s", h->file[c->item],
		    h->order.act == CARRY_FETCH || c->role != CARRY_ROLE_COPY ? ending[c->role]
		                                                              : ".machine");
	n = strlen(path);
	rc = copy_out(fd, c->size, path);
	/* An earlier order, or this one, has kept something there. */
	for (unsigned k = 2; rc == -EEXIST && c->role == CARRY_ROLE_OLD && k < KEPT_MAX; k++) {
		snprintf(path + n, sizeof path - n, ".%u", k);
		rc = copy_out(fd, c->size, path);
	}
	close(fd);
	if (rc)
		fprintf(stderr, "%s: %s could not be written: %s\n", channel_name(h, c->item), path,
		    strerror(-rc));
	else
		fprintf(stderr, "%s: %" PRIu64 " bytes from the machine are in %s\n",
		    channel_name(h, c->item), c->size, path);
	h->failed |= rc && (c->role == CARRY_ROLE_COPY);
	return c->role == CARRY_ROLE_OLD ? rc : 0;
}

static void on_outcome(void *ctx, const struct carry_outcome *o)
{
	struct hand *h = ctx;

	h->outcome = *o;
}

static const struct parent_hand calls = {on_progress, on_step, on_content, on_outcome};

/* Find or begin the item of a channel; NULL when the machine has no such channel. */
static struct carry_item *item_of(struct hand *h, const char *name, size_t n)
{
	int channel = profile_channel_find(&h->machine->profile, name, n);
	const char *full;
	uint32_t i = 0;

	if (channel < 0) {
		fprintf(stderr, "yoke-carrier: %s has no channel '%.*s'\n", h->machine->name,
		    (int)n, name);
		return NULL;
	}
	full = h->machine->profile.channel[channel].name;
	while (i < h->order.items && strcmp(h->order.item[i].channel, full) != 0)
		i++;
	if (i == h->order.items) {
		struct carry_item *it = &h->order.item[h->order.items++];

		snprintf(it->channel, sizeof it->channel, "%s", full);
		it->line = h->machine->line[channel];
		h->fd[i] = -1;
	}
	return &h->order.item[i];
}

static int pour(void *ctx, const void *bytes, size_t n)
{
	return save_all(*(int *)ctx, bytes, n);
}

static int add_ends(void *ctx, const void *bytes, size_t n)
{
	return with_ends_add(ctx, bytes, n);
}

/* A file's bytes in sealed memory, with the line ends that are wanted there, and their sum. 0, or -1;
 * why may tell more. */
static int seal(struct hand *h, uint32_t i, int file, struct text *why)
{
	struct carry_item *it = &h->order.item[i];
	struct with_ends *w = with_ends_new(it->line.eob, pour, &h->fd[i]);
	int rc = -1;

	h->fd[i] = memfd_create("program", MFD_CLOEXEC | MFD_ALLOW_SEALING);
	if (w && h->fd[i] >= 0 && !load_pour(file, h->file[i], add_ends, w, why) &&
	    !with_ends_done(w, &it->want, &it->size))
		rc = fcntl(h->fd[i], F_ADD_SEALS,
		    F_SEAL_WRITE | F_SEAL_SHRINK | F_SEAL_GROW | F_SEAL_SEAL);
	with_ends_free(w);
	return rc;
}

static int load(struct hand *h, uint32_t i)
{
	struct text why = {0};
	int file = load_open(h->file[i], &why), rc = file >= 0 ? seal(h, i, file, &why) : -1;

	if (rc)
		fprintf(stderr, "yoke-carrier: %s\n", why.s ? why.s : "no memory for the program");
	if (file >= 0)
		close(file);
	text_free(&why);
	return rc ? -1 : 0;
}

/* CHANNEL=VALUE; is_name: of --name. */
static int assign(struct hand *h, const char *arg, bool is_name)
{
	const char *eq = strchr(arg, '=');
	struct carry_item *it = eq ? item_of(h, arg, (size_t)(eq - arg)) : NULL;
	const char *base;

	if (!eq)
		fprintf(stderr, "yoke-carrier: '%s' is not CHANNEL=%s\n", arg,
		    is_name ? "NAME" : "FILE");
	if (!it)
		return -1;
	base = is_name || !strrchr(eq, '/') ? eq + 1 : strrchr(eq, '/') + 1;
	if (is_name || !*it->target)
		snprintf(it->target, sizeof it->target, "%s", base);
	if (!is_name)
		h->file[it - h->order.item] = eq + 1;
	return 0;
}

static int parse(struct hand *h, int argc, char **argv)
{
	for (int i = 3; i < argc; i++) {
		const char *a = argv[i];

		if (!strcmp(a, "--order") && i + 1 < argc) {
			char *end;

			errno = 0;
			h->order.id = strtoull(argv[++i], &end, 10);
			if (errno || *end || end == argv[i] || *argv[i] == '-') {
				fprintf(stderr, "yoke-carrier: --order takes a number\n");
				return -1;
			}
		} else if (!strcmp(a, "--name") && i + 1 < argc) {
			if (assign(h, argv[++i], true))
				return -1;
		} else if (assign(h, a, false)) {
			return -1;
		}
	}
	if (!h->order.items)
		fprintf(stderr, "%s", usage);
	for (uint32_t i = 0; i < h->order.items; i++)
		if (!h->file[i]) {
			fprintf(stderr, "yoke-carrier: channel %s has a name and no file\n",
			    channel_name(h, i));
			return -1;
		}
	return h->order.items ? 0 : -1;
}

static int report(const struct hand *h)
{
	const struct carry_outcome *o = &h->outcome;

	fprintf(stderr, "%s", h->tty && h->phase ? "\n" : "");
	for (uint32_t i = 0; i < o->items; i++) {
		const struct carry_channel *c = &o->channel[i];

		if (c->held_ms)
			fprintf(stderr,
			    "%s: held for %.1f s; at most %" PRIu64 " characters left after it was held\n",
			    channel_name(h, i), (double)c->held_ms / 1000, c->after_dc3);
		if (c->left_out)
			fprintf(stderr,
			    "%s: %" PRIu64 " characters outside of all %% were left out: no program\n",
			    channel_name(h, i), c->left_out);
		if (h->order.act != CARRY_FETCH || o->channel[i].held == CARRY_HELD_ABSENT)
			fprintf(stderr, "%s: the machine holds %s%s\n", channel_name(h, i),
			    held_text[o->channel[i].held],
			    o->channel[i].compared ? " (read back and equal)" : "");
	}
	if (o->error)
		fprintf(stderr, "yoke-carrier: %s: %s: %s\n", channel_name(h, o->item),
		    error_text[o->error], o->text);
	if (!o->error && h->order.act == CARRY_SEND)
		fprintf(stderr, "%s\n", o->text);
	if (h->order.act == CARRY_SEND && !o->error)
		fprintf(stderr,
		    "Prove out before production: single block, rapid override low, guard closed, "
		    "hand at feed hold.\n"
		    "Check work offsets and tool offsets of both channels. Follow the machine "
		    "builder's manual, the shop's\n"
		    "rules and local regulations. Trained and authorised persons only.\n");
	return o->error || h->failed ? 1 : 0;
}

static int carry(struct hand *h, int stop_fd)
{
	struct parent *p = parent_new(-1, stop_fd, &calls, h);
	struct carry_outcome o;
	struct job j;

	if (!p)
		return 2;
	if (!job_open(&j, p, &h->order, h->fd, h->order.items, true))
		job_run(&j);
	job_outcome(&j, &o);
	parent_outcome(p, &o);
	job_close(&j);
	parent_free(p);
	return report(h);
}

int run_by_hand(int argc, char **argv, int stop_fd)
{
	static const char *const act[] = {"send", "fetch", "inspect"};
	static struct conf_machine machine; /* large */
	static struct hand h;
	struct conf_report wrong = {0};
	struct profile *shop = malloc(sizeof *shop);
	int status = 2;

	while (h.order.act < 3 && strcmp(argv[1], act[h.order.act]) != 0)
		h.order.act++;
	if (h.order.act == 3 || argc < 4 || !shop) {
		fprintf(stderr, "%s", usage);
		free(shop);
		return 2;
	}
	profile_defaults(shop);
	if (conf_machine_read(argv[2], shop, &machine, &wrong)) {
		fprintf(stderr, "%s", wrong.text.s ? wrong.text.s : "no memory\n");
		goto out;
	}
	h.machine = &machine;
	h.tty = isatty(2);
	snprintf(h.order.machine, sizeof h.order.machine, "%s", machine.name);
	conf_machine_words(&machine, &h.order);
	if (parse(&h, argc, argv))
		goto out;
	for (uint32_t i = 0; h.order.act != CARRY_FETCH && i < h.order.items; i++)
		if (load(&h, i))
			goto out;
	status = carry(&h, stop_fd);
out:
	conf_report_free(&wrong);
	free(shop);
	return status;
}
