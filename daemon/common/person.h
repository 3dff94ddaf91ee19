/* Users and groups by name, from the system's own lists. What the kernel says of them are numbers. */
#ifndef PERSON_H
#define PERSON_H

#include <stdbool.h>
#include <stddef.h>
#include <sys/types.h>

/*
 * "anna (uid 1002)"; "uid 4711, no such user"; of the number that the kernel puts in place of one that
 * is not known here, "uid 65534, put by the kernel in place of another". Names are made visible, and
 * hold no parentheses.
 */
void person_user(uid_t uid, char *out, size_t n);

/* The same with a group: "anna (uid 1002, group setters)". */
void person_user_group(uid_t uid, gid_t gid, char *out, size_t n);

/* "setters", or "gid 4711" where there is no such group. */
void person_group(gid_t gid, char *out, size_t n);

/* The number of a name, or of a number in digits, which needs no entry. False: there is none. */
bool person_uid(const char *name, uid_t *uid);
bool person_gid(const char *name, gid_t *gid);

/* The number of the user who logs in by this name; digits are a name here. */
bool person_login(const char *name, uid_t *uid);

/* The groups that the system's lists give to this user, at most max. How many; 0 when he is unknown. */
size_t person_groups(uid_t uid, gid_t *gid, size_t max);

/*
 * Whose name who is, as person_user and person_user_group wrote it: true and *uid. False: nobody can
 * say which person this is (an unknown owner, a badge, the service).
 */
bool person_is(const char *who, uid_t *uid);

#endif
