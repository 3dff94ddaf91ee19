/* An order of the vault made ready for a carrier: lines, names on the machine, sealed programs. */
#ifndef MANIFEST_H
#define MANIFEST_H

#include "inside.h"

/* Fill order from o and the machine's configuration. 0, or -1 with one line in why. */
int manifest_order(struct service *s, const struct service_machine *m, const struct vault_order *o,
    struct carry_order *order, char *why, size_t n);

/*
 * For an order that brings programs: sealed descriptors of them, with the line ends that are wanted there,
 * and of what was poured sum and size. The caller closes what is >= 0. 0, -1 with why.
 */
int manifest_programs(
    struct service *s, struct carry_order *order, int fd[YOKE_CHANNELS_MAX], char *why, size_t n);

/*
 * Expand a name pattern: {number} {job} {rev} {channel}. 0; -1 when a value is missing, the name is
 * too long, or holds a slash, a control character, or is "." or "..".
 */
int manifest_target(const char *pattern, const char *job, const char *revision, const char *channel,
    uint32_t number, char out[YOKE_PATH_MAX + 1]);

/*
 * The name on the machine by a line's pattern and by how names are written there, in upper case or 8.3.
 * 0; -1 with one line in why: the pattern gives no such name.
 */
int manifest_name(const struct service_machine *m, const struct line *line, const char *job,
    const char *revision, const char *channel, uint32_t number, char out[YOKE_PATH_MAX + 1], char *why,
    size_t n);

/* The number in the program itself; 0 when it cannot be read, or the name's pattern has no use for it:
 * reading a large program holds the loop. */
uint32_t manifest_number(
    struct service *s, const struct profile *profile, const char *pattern, const struct sha *sha);

#endif
