/* Files that a verb makes because a person named them. */
#ifndef NEW_FILE_H
#define NEW_FILE_H

#include "yoke/text.h"

/*
 * Write the text to a file that does not exist yet: nothing is ever overwritten. Frees the text. 0,
 * or EXIT_USE: that was said on stderr, and no file is left.
 */
int new_file_write(const char *path, struct text *t);

#endif
