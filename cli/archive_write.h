/* Writing an archive (archive.h). */
#ifndef ARCHIVE_WRITE_H
#define ARCHIVE_WRITE_H

/*
 * Write every entry of the service's trail up to the first checkpoint that covers the newest one before
 * before, in seconds since 1970 UTC, and every program that they name, to a new file, and check it. What
 * went wrong was said, and no file is left then. An exit status.
 */
int archive_write(const char *file, long long before);

#endif
