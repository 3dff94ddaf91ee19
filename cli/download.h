/* Programs out of the vault, byte for byte. */
#ifndef DOWNLOAD_H
#define DOWNLOAD_H

/*
 * The program of this SHA-256 (64 hexadecimal digits) to stdout, path NULL, or into a new file; a
 * file that is there already is left alone, and one that was not written whole is removed. The sum
 * of what came is compared. On a terminal, control characters are shown as <hh>. The exit status;
 * what went wrong was said on stderr.
 */
int download_program(const char *sha256, const char *path);

/* The same, byte for byte into an open file, which stays the caller's; name is for messages. */
int download_into(const char *sha256, int fd, const char *name);

#endif
