/* Where the file system that a path lies on is mounted. */
#ifndef MOUNT_POINT_H
#define MOUNT_POINT_H

/* From /proc/self/mountinfo (proc(5)). The caller frees; NULL when it cannot be told. */
char *mount_point(const char *path);

/* The same for a table in another file, for tests. path: absolute, without links. */
char *mount_point_in(const char *table, const char *path);

#endif
