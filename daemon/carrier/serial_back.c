/* What a control punches: fetched as a program, or compared with what was sent. */
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>
#include "serial_came.h"
#include "serial_lines.h"
#include "serial_work.h"
#include "sha256.h"

enum {
	CHUNK = 4096,
	COPY_MAX = 64 * 1024 * 1024, /* bytes; more than the memory of a control, of which all may be
	                                punched: what is longer is noise */
	COPY_MORE = 1024 * 1024, /* bytes that a copy may be longer than twice its program: leader,
	                            trailer, line ends */
};

struct serial_receive *serial_listen(const struct serial_work *w, uint32_t i)
{
	const struct carry_order *o = w->job->order;
	size_t max = COPY_MAX;

	if (o->act == CARRY_SEND && max < 2 * (size_t)o->item[i].size + COPY_MORE)
		max = 2 * (size_t)o->item[i].size + COPY_MORE;
	return serial_receive_new(&o->item[i].line.serial, max, parent_now());
}

int serial_hand_over(struct job *j, uint32_t i, enum carry_role role, const uint8_t *bytes,
    size_t n, const char *note)
{
	int fd = memfd_create("copy", MFD_CLOEXEC | MFD_ALLOW_SEALING), rc = 0;
	struct sha sum;

	if (fd < 0)
		return fault_errno(&j->fault, errno, i, "no memory for what came");
	for (size_t at = 0; at < n && !rc;) {
		ssize_t w = write(fd, bytes + at, n - at);

		if (w < 0 && errno != EINTR)
			rc = -errno;
		at += w > 0 ? (size_t)w : 0;
	}
	if (!rc && fcntl(fd, F_ADD_SEALS, F_SEAL_WRITE | F_SEAL_SHRINK | F_SEAL_GROW | F_SEAL_SEAL))
		rc = -errno;
	if (!rc && sha256_of(bytes, n, sum.b))
		rc = -ENOMEM;
	if (!rc)
		rc = parent_content_note(j->parent, i, role, fd, n, &sum, note);
	close(fd);
	return rc ? fault_errno(
	                &j->fault, -rc, i, "what came from the control could not be handed over")
	          : 0;
}

/* Milliseconds until the earlier of two times. */
static uint64_t patience(uint64_t a, uint64_t b)
{
	uint64_t now = parent_now(), until = a < b ? a : b;

	return until > now ? until - now : 0;
}

/* Run a receiving machine over its line to the end. False when stop was asked. */
static bool listen_to_end(struct serial_work *w, uint32_t i, struct serial_receive *r)
{
	struct parent *p = w->job->parent;
	struct stream *s = w->stream[i];
	struct serial_receive_outcome o;
	struct fault why;
	unsigned char in[CHUNK];

	for (;;) {
		uint64_t now = parent_now(), until;
		struct carry_progress at = {i, CARRY_PHASE_PUNCH, 0, 0, 0, UINT64_MAX};
		int came, n;

		serial_receive_tick(r, now);
		serial_receive_outcome(r, &o);
		if (o.state <= SERIAL_RECEIVE_LEADER)
			stream_counts(s, &w->before[serial_first(w, i)]);
		if (o.state == SERIAL_RECEIVE_DONE || o.state == SERIAL_RECEIVE_FAILED)
			return true;
		if (o.state == SERIAL_RECEIVE_BODY || o.state == SERIAL_RECEIVE_CLOSING)
			at.phase = CARRY_PHASE_RECEIVE;
		at.bytes = o.raw_size;
		parent_progress(p, &at);
		until = serial_receive_deadline(r);
		came = stream_tick(s) ? parent_wait(p, s->fd, stream_events(s, false),
		                            patience(until, stream_deadline(s)))
		                      : -1;
		if (parent_stopping(p)) {
			serial_receive_cancel(r, parent_now());
			return false;
		}
		n = came < 0 ? -1 : stream_read(s, (short)came, in, sizeof in);
		/* Without a % it was the device server's own word, such as that its port is still in use
		 * by who had it just before. */
		if (n < 0 && serial_receive_anew(r, parent_now()) && serial_again(w, i, &why))
			continue;
		if (n > 0)
			serial_receive_feed(r, parent_now(), in, (size_t)n);
		/* With its closing % a text is whole, even when the server then hangs up. */
		if (n < 0 && o.state == SERIAL_RECEIVE_CLOSING)
			serial_receive_tick(r, until);
		else if (n < 0)
			serial_receive_lost(r, parent_now());
	}
}

/* The fault of a text that must not be taken for a program, raw capture handed over. 0 when it may
 * be. */
static int judge(struct job *j, uint32_t i, const struct serial_receive_outcome *o)
{
	enum carry_error error;
	const char *says;

	if (o->state == SERIAL_RECEIVE_FAILED) {
		error = o->reason == SERIAL_RECEIVE_NOTHING     ? CARRY_ERROR_NOTHING
		        : o->reason == SERIAL_RECEIVE_CANCELLED ? CARRY_ERROR_CANCELLED
		        : o->reason == SERIAL_RECEIVE_LOST      ? CARRY_ERROR_LOST
		                                                : CARRY_ERROR_DAMAGED;
		says = serial_receive_says(o->reason);
	} else if (serial_capture_worst(o->findings)) {
		error = o->findings & SERIAL_CAPTURE_FRAMING ? CARRY_ERROR_FRAMING
		                                             : CARRY_ERROR_DAMAGED;
		says = serial_capture_says(serial_capture_worst(o->findings));
	} else {
		return 0;
	}
	if (o->raw_size)
		serial_hand_over(j, i, CARRY_ROLE_RAW, o->raw, o->raw_size, "");
	if (o->state == SERIAL_RECEIVE_FAILED && o->raw_size)
		return fault_set(&j->fault, error, i, "channel %s, after %zu characters: %s",
		    j->order->item[i].channel, o->raw_size, says);
	if (error == CARRY_ERROR_DAMAGED && o->damage_line > 0) {
		char where[SERIAL_CAME_WHERE];

		serial_came_where(o, where);
		return fault_set(&j->fault, error, i, "channel %s, line %llu%s: %s",
		    j->order->item[i].channel, (unsigned long long)o->damage_line, where, says);
	}
	return fault_set(&j->fault, error, i, "channel %s: %s", j->order->item[i].channel, says);
}

/*
 * The same, and what the port itself has to say of a text that was received to its end: an adapter
 * that is gone, a break, characters that were damaged although they look like others.
 */
static int judge_line(struct serial_work *w, uint32_t i, const struct serial_receive_outcome *o)
{
	struct job *j = w->job;
	char why[200];
	int rc;

	if (serial_lines_heard(w, i, o)) {
		if (o->raw_size)
			serial_hand_over(j, i, CARRY_ROLE_RAW, o->raw, o->raw_size, "");
		return -1;
	}
	rc = judge(j, i, o);
	stream_says(w->stream[i], why, sizeof why);
	if (rc && o->state == SERIAL_RECEIVE_FAILED && o->reason == SERIAL_RECEIVE_LOST && *why)
		fault_add(&j->fault, " (%s)", why);
	return rc;
}

int serial_compare(struct serial_work *w, uint32_t i)
{
	struct job *j = w->job;
	struct serial_receive **copy = &w->copy[serial_first(w, i)];
	struct serial_receive *r = *copy ? *copy : serial_listen(w, i);
	struct serial_receive_outcome o;
	int rc = -1;

	*copy = NULL;
	if (!r)
		return fault_set(&j->fault, CARRY_ERROR_IO, i, "no memory to read back");
	listen_to_end(w, i, r);
	serial_receive_outcome(r, &o);
	if (!judge_line(w, i, &o))
		rc = serial_came_compare(j, i, &o);
	serial_receive_free(r);
	return rc;
}

int serial_compare_copy(struct serial_work *w, uint32_t i)
{
	struct serial_receive **copy = &w->copy[serial_first(w, i)];
	struct job *j = w->job;
	struct serial_receive_outcome o;
	bool waits[YOKE_CHANNELS_MAX] = {false};
	uint32_t of;
	int rc = 0;

	serial_receive_outcome(*copy, &o);
	if (o.state != SERIAL_RECEIVE_DONE)
		return 0; /* it goes on, or was no text */
	for (uint32_t k = 0; k < i; k++)
		waits[k] = w->stream[k] == w->stream[i] && w->sent[k] && !j->channel[k].compared;
	of = serial_came_of(j, &o, waits);
	if (of < j->order->items) {
		rc = judge_line(w, of, &o);
		if (!rc)
			rc = serial_came_compare(j, of, &o);
	}
	serial_receive_free(*copy);
	*copy = NULL;
	return rc;
}

int serial_fetch(struct serial_work *w, uint32_t i)
{
	struct job *j = w->job;
	struct serial_receive *r = serial_listen(w, i);
	struct serial_receive_outcome o;
	int rc = -1;

	if (!r)
		return fault_set(&j->fault, CARRY_ERROR_IO, i, "no memory to receive");
	listen_to_end(w, i, r);
	serial_receive_outcome(r, &o);
	if (!judge_line(w, i, &o))
		rc = serial_came_fetched(j, i, &o);
	serial_receive_free(r);
	return rc;
}
