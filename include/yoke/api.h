/*
 * The API between service and whoever asks: HTTP/1.1 and JSON over a Unix socket. One list makes
 * verb, method and path. In a path {name} stands for one component, percent-encoded. What each
 * takes and answers stands in DEVELOPERS.md.
 */
#ifndef YOKE_API_H
#define YOKE_API_H

/* X(ENUM, method, path) */
#define API_LIST(X)                                                                                \
	X(STATUS, "GET", "/v1/status")                                                             \
	X(MACHINES, "GET", "/v1/machines")                                                         \
	X(MACHINE, "GET", "/v1/machines/{machine}")                                                \
	X(JOBS, "GET", "/v1/jobs")                                                                 \
	X(JOB, "GET", "/v1/jobs/{job}")                                                            \
	X(PROGRAM, "GET", "/v1/programs/{sha}")                                                    \
	X(PROGRAM_KEEP, "POST", "/v1/programs")                                                    \
	X(SEND, "POST", "/v1/machines/{machine}/send")                                             \
	X(RESTORE, "POST", "/v1/machines/{machine}/restore")                                       \
	X(FETCH, "POST", "/v1/machines/{machine}/fetch")                                           \
	X(DRIP, "POST", "/v1/machines/{machine}/drip")                                             \
	X(EXPORT, "POST", "/v1/machines/{machine}/export")                                         \
	X(IMPORT, "POST", "/v1/machines/{machine}/import")                                         \
	X(LOADED, "POST", "/v1/machines/{machine}/loaded")                                         \
	X(PROVE, "POST", "/v1/machines/{machine}/prove")                                           \
	X(LOCK, "POST", "/v1/machines/{machine}/lock")                                             \
	X(UNLOCK, "POST", "/v1/machines/{machine}/unlock")                                         \
	X(ORDERS, "GET", "/v1/orders")                                                             \
	X(ORDER, "GET", "/v1/orders/{order}")                                                      \
	X(ORDER_FOLLOW, "GET", "/v1/orders/{order}/follow")                                        \
	X(ORDER_CANCEL, "POST", "/v1/orders/{order}/cancel")                                       \
	X(ORDER_NEXT, "POST", "/v1/orders/{order}/next")                                           \
	X(AUDIT, "GET", "/v1/audit")                                                               \
	X(AUDIT_VERIFY, "GET", "/v1/audit/verify")                                                 \
	X(FOLLOW, "GET", "/v1/follow")

enum api_verb {
#define X(id, method, path) API_##id,
	API_LIST(X)
#undef X
	    API_COUNT
};

#endif
