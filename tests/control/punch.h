/*
 * The control's punch: the stream that goes over the line when programs are punched out.
 *
 *     DC2, leader of NULs, % EOB, blocks, % EOB, trailer of NULs, DC4
 *
 * Common practice of controls with a punch on a serial line.
 */
#ifndef BENCH_PUNCH_H
#define BENCH_PUNCH_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "code.h"

struct store;

enum punch_eob { PUNCH_LF, PUNCH_CRLF, PUNCH_LFCRCR };

struct punch_settings {
	enum code code;
	enum punch_eob eob;
	size_t leader, trailer; /* NULs */
	bool own_percent;       /* each program has its % and its tape */
	const char *word;       /* of the channel, a block behind each opening %; NULL: none */
};

/*
 * The stream for program `number`, for STORE_ALL, or for STORE_NEWEST: between one % at either end,
 * or with `own_percent` between two of its own each, with trailer and leader between. *len gets its
 * length in bytes. The caller frees it. NULL with errno ENOENT (no such program) or ENOMEM.
 */
uint8_t *punch_stream(
    const struct store *s, long number, const struct punch_settings *settings, size_t *len);

#endif
