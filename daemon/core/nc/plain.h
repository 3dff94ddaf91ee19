/*
 * Runs of plain blocks, recognised in bulk: the bulk of most programs. A block is plain when it
 * holds nothing but blanks and words that were allowed, each letter once (G apart), N first if at
 * all, each word a letter, at most one sign and up to 15 digits and a point, without blanks inside;
 * of G only G0 to G3, or G00 to G03; and ends in LF or CR LF. Not every block that nc.h calls plain
 * is found, but nothing else is.
 */
#ifndef NC_PLAIN_H
#define NC_PLAIN_H

#include "nc.h"

/*
 * Look for plain blocks from s on, where a block begins, up to stop at most. run: blocks, bytes,
 * crlf, first, step, text and block are set; the rest is left as it is. The run ends before the
 * first block that is not plain, or whose N breaks the progression, and before the last 64 bytes or
 * fewer; blocks may be 0.
 */
void nc_plain_read(struct nc_plain *run, struct nc_plain_text block[NC_PLAIN_MAX],
    const struct nc_plain_allowed *allowed, const char *s, const char *stop);

#endif
