/* What a name in the watched folder is, before anything is opened. Pure. */
#ifndef YOKE_INTAKE_FILENAME_H
#define YOKE_INTAKE_FILENAME_H

#include <stdbool.h>
#include <stddef.h>

enum filename_kind {
	FILENAME_PLAIN = 0, /* may be a program */
	FILENAME_IGNORED,   /* temporary, back-up or hidden */
	FILENAME_CONTROL,   /* holds a control character, C0, DEL or C1 */
	FILENAME_ENCODING,  /* is not UTF-8 */
	FILENAME_DOTS,      /* "", ".", "..", or holds a slash */
};

/*
 * Judges one component of a path. Ignored are, whatever the case of letters (common practice of
 * editors, office programs, copy programs and file managers): names that begin with `.` or `~` or
 * end with `~`,
 * `#...#`, `4913` (an editor's trial file), and the endings listed in filename.c.
 */
enum filename_kind filename_check(const char *name);

/* Length in bytes (1 to 4) of the UTF-8 character at s (n bytes left), 0 if there is none (RFC
 * 3629, 4). */
size_t filename_utf8(const unsigned char *s, size_t n);

/* True if path is dir or lies below it; "" is the root and holds everything. */
bool filename_under(const char *path, const char *dir);

/* Number of components of a path; 0 for "". */
unsigned filename_depth(const char *path);

/* As intake_path_text (intake.h). */
const char *filename_text(const char *path, char *out, size_t size);

#endif
