#include "job.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include "listen.h"
#include "look.h"
#include "place.h"
#include "serial.h"
#include "sha256.h"
#include "share.h"

/* Map one program. Its memory is sealed, so it cannot change or shrink while we read it. */
static int map(struct job *j, uint32_t i, int fd, bool summed)
{
	const struct carry_item *it = &j->order->item[i];
	const int need = F_SEAL_WRITE | F_SEAL_SHRINK | F_SEAL_GROW;
	int seals = fcntl(fd, F_GET_SEALS);
	struct stat st;
	struct sha sum;
	void *at;

	if (seals < 0 || (seals & need) != need)
		return fault_set(
		    &j->fault, CARRY_ERROR_ORDER, i, "the program's memory is not sealed");
	if (fstat(fd, &st) || (uint64_t)st.st_size != it->size || it->size == 0)
		return fault_set(&j->fault, CARRY_ERROR_ORDER, i,
		    "the program is empty or not as long as the order says");
	at = mmap(NULL, it->size, PROT_READ, MAP_PRIVATE | MAP_POPULATE, fd, 0);
	if (at == MAP_FAILED)
		return fault_set(&j->fault, CARRY_ERROR_ORDER, i,
		    "the program cannot be mapped: %s", strerror(errno));
	j->program[i] = at;
	if (summed)
		return 0;
	if (sha256_of(at, it->size, sum.b) || memcmp(&sum, &it->want, sizeof sum) != 0)
		return fault_set(&j->fault, CARRY_ERROR_ORDER, i,
		    "the program's bytes do not have the sum that the order names");
	return 0;
}

int job_open(struct job *j, struct parent *parent, const struct carry_order *order, const int *fd,
    unsigned fds, bool summed)
{
	memset(j, 0, sizeof *j);
	j->parent = parent;
	j->order = order;
	/* Nothing was touched yet, but after an interrupted order nothing is known either. */
	for (uint32_t i = 0; i < order->items; i++)
		j->channel[i].held =
		    order->act == CARRY_INSPECT ? CARRY_HELD_UNKNOWN : CARRY_HELD_OLD;
	for (uint32_t i = 0; i < order->items; i++) {
		if (order->item[i].line.kind != order->item[0].line.kind)
			return fault_set(&j->fault, CARRY_ERROR_ORDER, i,
			    "the channels have different kinds of line");
		/* The channel's name becomes a part of our temporaries' names. */
		if (!place_name_ok(order->item[i].channel))
			return fault_set(
			    &j->fault, CARRY_ERROR_ORDER, i, "the channel's name is not allowed");
		for (uint32_t k = 0; k < i; k++)
			if (!strcmp(order->item[k].channel, order->item[i].channel))
				return fault_set(&j->fault, CARRY_ERROR_ORDER, i,
				    "a channel occurs twice in the order");
	}
	for (uint32_t i = 0; carry_brings(order->act) && i < order->items; i++)
		if (i >= fds || map(j, i, fd[i], summed))
			return fault_set(&j->fault, CARRY_ERROR_ORDER, i, "a program is missing");
	return 0;
}

void job_run(struct job *j)
{
	switch (j->order->item[0].line.kind) {
	case LINE_DIRECTORY:
	case LINE_REMOTE:
		if (j->order->act == CARRY_LISTEN)
			look_run(j);
		else if (j->order->act == CARRY_DRIP)
			fault_set(&j->fault, CARRY_ERROR_ORDER, j->order->items,
			    "a control executes while it reads over a serial line, not from a share");
		else
			share_run(j);
		break;
	case LINE_SERIAL:
		if (j->order->act == CARRY_LISTEN)
			listen_run(j);
		else
			serial_run(j);
		break;
	case LINE_STICK: /* a person carries it */
	case LINE_NONE:
		fault_set(&j->fault, CARRY_ERROR_ORDER, j->order->items,
		    "the machine has no line: set one in its configuration");
		break;
	}
}

/* What was reached, in one sentence. */
static const char *success(const struct job *j)
{
	bool compared = true;

	for (uint32_t i = 0; i < j->order->items; i++)
		compared = compared && j->channel[i].compared;
	if (j->order->act == CARRY_FETCH)
		return "fetched";
	if (j->order->act == CARRY_TRY)
		return j->told;
	if (j->order->act == CARRY_INSPECT)
		return "what the machine holds was read";
	if (j->order->act == CARRY_DRIP)
		return "all of the program went down the line to a control that executes while it "
		       "reads: it may still be at work on what lies in its buffer; nothing of it is "
		       "stored";
	if (line_is_share(j->order->item[0].line.kind))
		return "all channels were written, read back, found equal and put in place";
	return compared ? "all channels went down the line and came back equal"
	                : "all channels went down the line; they were not read back";
}

static void add(struct carry_outcome *out, const char *between, const char *more)
{
	size_t n = strlen(out->text);

	if (*more)
		snprintf(out->text + n, sizeof out->text - n, "%s%s", between, more);
}

void job_outcome(const struct job *j, struct carry_outcome *out)
{
	memset(out, 0, sizeof *out);
	out->error = j->fault.error;
	out->items = j->order->items;
	out->item = j->fault.error ? j->fault.item : j->order->items;
	memcpy(out->channel, j->channel, sizeof out->channel);
	memcpy(out->text, j->fault.text, sizeof out->text);
	if (!j->fault.error)
		snprintf(out->text, sizeof out->text, "%s", success(j));
	add(out, "; ", j->note);
	add(out, "; over ", j->over);
}

void job_close(struct job *j)
{
	for (uint32_t i = 0; i < YOKE_CHANNELS_MAX; i++)
		if (j->program[i])
			munmap((void *)j->program[i], j->order->item[i].size);
	memset(j->program, 0, sizeof j->program);
}
