/*
 * HTTP/JSON on a Unix socket. Knows requests and answers, nothing of vault, machines or carriers:
 * each verb of yoke/api.h is one function of a table that the service fills.
 */
#ifndef API_H
#define API_H

#include <jansson.h>
#include <stdbool.h>
#include <stdint.h>
#include <sys/types.h>
#include <uv.h>
#include "yoke/api.h"
#include "yoke/limits.h"

struct api;

/* Who asks, from the kernel alone (SO_PEERCRED, SO_PEERGROUPS), as it was when he connected. */
struct api_who {
	uid_t uid;
	gid_t gid;
	pid_t pid;
	const gid_t *group; /* the supplementary groups; the API's */
	size_t groups;
	char name[160]; /* what he is called in events: "" from the API, the service's to fill */
};

/* One request, checked: path values decoded, valid UTF-8, without control characters. */
struct api_call {
	const struct api_who *who;
	const char *from; /* how it came, for events: "socket" */
	enum api_verb verb;
	const char
	    *path[2]; /* values of the {..} in the path, in order; NULL where there is none */
	const json_t *query; /* object of strings: the query string */
	const json_t *body;  /* object; {} when the request had no body */
	void *taken;         /* what api_take made of a body of bytes; stays the API's */
};

/* The answer. Zeroed by the caller. */
struct api_reply {
	unsigned status; /* HTTP status; 0 counts as 200 */
	json_t *body;    /* owned by the reply; NULL for none */
	/* Instead of a JSON body: bytes. malloc'd, owned by the reply. */
	char *bytes;
	size_t n;
	const char *type; /* content type of bytes, static */
	/* Instead of both: a stream of JSON lines (application/x-ndjson), fed by api_publish with
	 * the same topic. */
	bool stream;
	uint64_t topic; /* 0: events; otherwise an order's id */
};

/* Fill an answer that is an error: {"error": name, "text": what, why and what to do}. Status is the
 * caller's. */
void api_reply_error(struct api_reply *r, unsigned status, const char *name, const char *format,
    ...) __attribute__((format(printf, 4, 5)));

/*
 * Where a body of bytes goes, piece by piece, as it comes: a program may be larger than what should
 * lie in memory. At most YOKE_PROGRAM_MAX bytes.
 */
struct api_take {
	/* Asked before any byte is taken: false, and the body is passed over. The verb is called all
	 * the same, with nothing taken, and refuses. */
	bool (*may)(void *service, const struct api_who *who);
	void *(*begin)(void *service); /* NULL: no memory, the connection is closed */
	void (*add)(void *taken, const void *bytes, size_t n); /* failures are told by the verb */
	void (*drop)(void *taken); /* the request is over, or its sender is gone */
};

typedef void api_fn(void *service, const struct api_call *call, struct api_reply *reply);

/*
 * Listen on socket (path; a stale one is replaced, a live one refused). mode: of the socket, 0660
 * usually. Runs inside loop, without threads. NULL on failure, with one line in why.
 */
struct api *api_new(uv_loop_t *loop, const char *socket, unsigned mode, api_fn *const fn[API_COUNT],
    void *service, char *why, size_t n);

/* The same on a listening descriptor that somebody else made (systemd socket activation); taken
 * over. */
struct api *api_new_fd(
    uv_loop_t *loop, int fd, api_fn *const fn[API_COUNT], void *service, char *why, size_t n);

/* Take the bodies of verbs that take bytes. Until it was called they are none. */
void api_takes(struct api *a, const struct api_take *take);

/* One line to everyone who follows topic. A reader that does not keep up (1 MiB behind) is
 * disconnected. */
void api_publish(struct api *a, uint64_t topic, const json_t *line);

/* The topic has ended: its streams are closed after what was published. */
void api_topic_end(struct api *a, uint64_t topic);

/* Stop listening and close connections; handles are closed in the loop, memory with api_free.
 * Removes the socket. */
void api_stop(struct api *a);
void api_free(struct api *a);

#endif
