/* Reading a secret from where it lies (secret_place.h), for as short a time as may be. */
#ifndef SECRET_H
#define SECRET_H

#include "fault.h"

enum { SECRET_MAX = 1024 };

/* The path of a secret's file in path (YOKE_PATH_MAX + 1 bytes), checked: a regular file that, unless
 * it is a credential, is ours and nobody else may read. As who asks is about to read it, the process becomes
 * one that leaves no core and cannot be looked into. 0, or -1 with the fault set: SECRET. */
int secret_path(const char *place, const char *what, uint32_t item, char *path, struct fault *f);

/*
 * Read the secret: one line, without its end. The process becomes such a one too. out is SECRET_MAX + 1 bytes; explicit_bzero() it as soon as it is used. what: "password"
 * or "key", for messages, which never hold any of it. 0, or -1 with the fault set: SECRET.
 */
int secret_read(const char *place, const char *what, uint32_t item, char *out, struct fault *f);

#endif
