/*
 * The API between service and whoever asks: HTTP/1.1 and JSON over a Unix socket. One list makes
 * verb, method, path and duty. In a path {name} stands for one component, percent-encoded. What each
 * takes and answers stands in DEVELOPERS.md.
 */
#ifndef YOKE_API_H
#define YOKE_API_H

#include "yoke/duty.h"

/* X(ENUM, method, path, the duty that it needs) */
#define API_LIST(X)                                                                                \
	X(STATUS, "GET", "/v1/status", LOOK)                                                       \
	X(MACHINES, "GET", "/v1/machines", LOOK)                                                   \
	X(MACHINE, "GET", "/v1/machines/{machine}", LOOK)                                          \
	X(JOBS, "GET", "/v1/jobs", LOOK)                                                           \
	X(JOB, "GET", "/v1/jobs/{job}", LOOK)                                                      \
	X(HISTORY, "GET", "/v1/jobs/{job}/history", LOOK)                                          \
	X(ACCEPT, "POST", "/v1/jobs/{job}/accept", RELEASE_AGAIN)                                  \
	X(WITHDRAW, "POST", "/v1/jobs/{job}/withdraw", RELEASE)                                    \
	X(PROGRAM, "GET", "/v1/programs/{sha}", LOOK)                                              \
	X(PROGRAM_KEEP, "POST", "/v1/programs", CARRY)                                             \
	X(SEND, "POST", "/v1/machines/{machine}/send", CARRY)                                      \
	X(RESTORE, "POST", "/v1/machines/{machine}/restore", CARRY)                                \
	X(FETCH, "POST", "/v1/machines/{machine}/fetch", CARRY)                                    \
	X(DRIP, "POST", "/v1/machines/{machine}/drip", CARRY)                                      \
	X(EXPORT, "POST", "/v1/machines/{machine}/export", CARRY)                                  \
	X(IMPORT, "POST", "/v1/machines/{machine}/import", CARRY)                                  \
	X(LOADED, "POST", "/v1/machines/{machine}/loaded", CARRY)                                  \
	X(DOUBT, "POST", "/v1/machines/{machine}/doubt", CARRY)                                    \
	X(ADOPT, "POST", "/v1/machines/{machine}/adopt", RELEASE)                                  \
	X(PROVE, "POST", "/v1/machines/{machine}/prove", PROVE)                                    \
	X(LOCK, "POST", "/v1/machines/{machine}/lock", KEEP)                                       \
	X(UNLOCK, "POST", "/v1/machines/{machine}/unlock", KEEP)                                   \
	X(ORDERS, "GET", "/v1/orders", LOOK)                                                       \
	X(ORDER, "GET", "/v1/orders/{order}", LOOK)                                                \
	X(ORDER_FOLLOW, "GET", "/v1/orders/{order}/follow", LOOK)                                  \
	X(ORDER_CANCEL, "POST", "/v1/orders/{order}/cancel", CARRY)                                \
	X(ORDER_NEXT, "POST", "/v1/orders/{order}/next", CARRY)                                    \
	X(BACKUP, "POST", "/v1/backup", KEEP)                                                      \
	X(AUDIT, "GET", "/v1/audit", LOOK)                                                         \
	X(AUDIT_VERIFY, "GET", "/v1/audit/verify", LOOK)                                           \
	X(AUDIT_ENTRIES, "GET", "/v1/audit/entries", LOOK)                                         \
	X(AUDIT_PROOF, "GET", "/v1/audit/{event}/proof", LOOK)                                     \
	X(CHECKPOINTS, "GET", "/v1/checkpoints", LOOK)                                             \
	X(KEYS, "GET", "/v1/keys", LOOK)                                                           \
	X(KEYS_ROTATE, "POST", "/v1/keys/rotate", KEEP)                                            \
	X(FOLLOW, "GET", "/v1/follow", LOOK)

enum api_verb {
#define X(id, method, path, duty) API_##id,
	API_LIST(X)
#undef X
	    API_COUNT
};

#endif
