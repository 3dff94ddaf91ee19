/*
 * Checkpoints of the trail to their second place, by a process of its own: a mount that is dead or a
 * server that hangs stops nobody but it. For the service; also by hand:
 *
 *     yoke-carrier checkpoints PLACE [--new] <NOTES
 *
 * NOTES are signed notes, each followed by an empty line; at most KEEP_MAX bytes. PLACE is
 *
 *     file:/PATH      appended and flushed to the disk. Without --new the file must be there: where a
 *                     mount should be, nothing is begun anew below its mount point
 *     syslog:         a message of one line for each note, line ends as |, facility authpriv, level notice
 *     http(s)://...   one POST of all of them (text/plain); an answer of 2xx counts
 */
#ifndef KEEP_H
#define KEEP_H

enum { KEEP_MAX = 1 << 20 };

/* Exit status: 0 they are kept there; 1 not, and one line on the error output says why; 2 wrong use. */
int keep_run(int argc, char **argv);

#endif
