/* A file system for SQLite in which the n-th call goes wrong. */
#ifndef FAULT_VFS_H
#define FAULT_VFS_H

#include <stdbool.h>

/* Put it before the real one, as the default. */
void fault_install(void);

/*
 * Let the n-th call from now (from 1) of open, read, write, sync, truncate or shared memory fail;
 * with for_ever also all that follow. n = 0: none. Of reads and writes in a row only the first
 * twelve are counted. full: writes report a full disk instead of an error of the device.
 */
void fault_at(unsigned n, bool for_ever, bool full);

/* Whether that call has come. */
bool fault_happened(void);

#endif
