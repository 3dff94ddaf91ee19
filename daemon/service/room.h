/*
 * Room on the disk of the vault: told before it is full, as an event and in answers, while everything can still
 * be recorded. When it is full, nothing is carried that cannot be recorded (outcome.c).
 */
#ifndef SERVICE_ROOM_H
#define SERVICE_ROOM_H

#include "inside.h"

/* The first look. 0, -1. */
int room_start(struct service *s);

/* Look from time to time. */
void room_pulse(struct service *s);

/* What a person must know, or "" when there is room. */
void room_caution(const struct service *s, char *out, size_t n);

#endif
