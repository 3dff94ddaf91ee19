/*
 * Names as sticks and memory cards take them, which are formatted with FAT. The rules are those of
 * Microsoft's "FAT32 File System Specification" (fatgen103): long names are case-insensitive, and
 * do not hold a character of " * / : < > ? \ |; 8.3 names are up to 8 characters, a point and up to
 * 3, in upper case, out of letters, digits and $ % ' - _ @ ~ ` ! ( ) { } ^ # &. That a name neither
 * begins with a blank nor ends with a blank or point, and is none of CON, PRN, AUX, NUL, COM1.. and
 * LPT1.., is common practice: controls and office computers that read the stick trip over them.
 */
#ifndef FAT_NAME_H
#define FAT_NAME_H

#include <stdbool.h>
#include <stddef.h>

/*
 * What is wrong with a file's or folder's name, as the end of a sentence that begins with it; NULL
 * when nothing is. Beyond ASCII nothing is taken: which code page a control reads is not known.
 * eight_three: it must be a short name.
 */
const char *fat_name_fault(const char *name, bool eight_three);

/* The same for a path of several names with / between. "" is good: no folder. */
const char *fat_name_path_fault(const char *path, bool eight_three);

/* The letters of ASCII in upper case, in place. */
void fat_name_upper(char *name);

/* True when FAT takes both for one name. */
bool fat_name_same(const char *a, const char *b);

#endif
