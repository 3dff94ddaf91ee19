/* What lies beside the programs on a stick: the checksum list and the note. */
#ifndef STICK_NOTE_H
#define STICK_NOTE_H

#include "stick.h"

/* Say on the stick that it is not complete, and take the list away. 0, or the exit status, said. */
int stick_note_begin(struct stick_job *j);

/* Write both. time: RFC 3339, of the export. 0, or the exit status, said. */
int stick_note_end(const struct stick_job *j, const char *time);

/* After all was put back: the list as it was, and a note that says so. 0, or the exit status, said. */
int stick_note_back(const struct stick_job *j);

#endif
