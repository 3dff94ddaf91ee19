#include <sqlite3.h>
#include <string.h>
#include "fault_vfs.h"

static sqlite3_vfs *real;
static unsigned left;
static bool stays, disk_full, happened;

/* The real file follows in the same allocation. */
struct file {
	sqlite3_file base;
	sqlite3_file real[];
};

#define REAL(f) (((struct file *)(f))->real)

/* Reads and writes of page after page say the same over and over: of a row only the first are
 * counted. */
enum { ROW = 12 };
enum kind { OPEN, PAGE, SYNC, TRUNCATE, SHM };

static bool fails(enum kind kind)
{
	static enum kind last;
	static unsigned row;

	row = kind == last ? row + 1 : 1;
	last = kind;
	if (row > ROW && !happened)
		return false;
	if (left == 0)
		return stays && happened;
	if (--left > 0)
		return false;
	happened = true;
	return true;
}

static int f_close(sqlite3_file *f)
{
	return REAL(f)->pMethods->xClose(REAL(f));
}

static int f_read(sqlite3_file *f, void *p, int n, sqlite3_int64 at)
{
	return fails(PAGE) ? SQLITE_IOERR_READ : REAL(f)->pMethods->xRead(REAL(f), p, n, at);
}

static int f_write(sqlite3_file *f, const void *p, int n, sqlite3_int64 at)
{
	if (!fails(PAGE))
		return REAL(f)->pMethods->xWrite(REAL(f), p, n, at);
	/* A device takes a part before it fails. */
	REAL(f)->pMethods->xWrite(REAL(f), p, n / 2, at);
	return disk_full ? SQLITE_FULL : SQLITE_IOERR_WRITE;
}

static int f_truncate(sqlite3_file *f, sqlite3_int64 size)
{
	return fails(TRUNCATE) ? SQLITE_IOERR_TRUNCATE
	                       : REAL(f)->pMethods->xTruncate(REAL(f), size);
}

/* Nothing here takes the power away: the real sync would only take time. */
static int f_sync(sqlite3_file *f, int flags)
{
	return fails(SYNC) ? SQLITE_IOERR_FSYNC : SQLITE_OK;
}

static int f_size(sqlite3_file *f, sqlite3_int64 *size)
{
	return REAL(f)->pMethods->xFileSize(REAL(f), size);
}

static int f_lock(sqlite3_file *f, int how)
{
	return REAL(f)->pMethods->xLock(REAL(f), how);
}

static int f_unlock(sqlite3_file *f, int how)
{
	return REAL(f)->pMethods->xUnlock(REAL(f), how);
}

static int f_reserved(sqlite3_file *f, int *out)
{
	return REAL(f)->pMethods->xCheckReservedLock(REAL(f), out);
}

static int f_control(sqlite3_file *f, int op, void *arg)
{
	return REAL(f)->pMethods->xFileControl(REAL(f), op, arg);
}

static int f_sector(sqlite3_file *f)
{
	return REAL(f)->pMethods->xSectorSize(REAL(f));
}

static int f_device(sqlite3_file *f)
{
	return REAL(f)->pMethods->xDeviceCharacteristics(REAL(f));
}

static int f_shm_map(sqlite3_file *f, int page, int size, int extend, void volatile **p)
{
	if (fails(SHM))
		return SQLITE_IOERR_SHMSIZE;
	return REAL(f)->pMethods->xShmMap(REAL(f), page, size, extend, p);
}

static int f_shm_lock(sqlite3_file *f, int offset, int n, int flags)
{
	return REAL(f)->pMethods->xShmLock(REAL(f), offset, n, flags);
}

static void f_shm_barrier(sqlite3_file *f)
{
	REAL(f)->pMethods->xShmBarrier(REAL(f));
}

static int f_shm_unmap(sqlite3_file *f, int remove)
{
	return REAL(f)->pMethods->xShmUnmap(REAL(f), remove);
}

static const sqlite3_io_methods methods = {2, f_close, f_read, f_write, f_truncate, f_sync, f_size,
    f_lock, f_unlock, f_reserved, f_control, f_sector, f_device, f_shm_map, f_shm_lock,
    f_shm_barrier, f_shm_unmap, 0, 0};

static int v_open(sqlite3_vfs *v, const char *name, sqlite3_file *f, int flags, int *out)
{
	int rc;

	f->pMethods = NULL;
	if (fails(OPEN))
		return SQLITE_CANTOPEN;
	rc = real->xOpen(real, name, REAL(f), flags, out);
	if (REAL(f)->pMethods)
		f->pMethods = &methods;
	return rc;
}

void fault_install(void)
{
	static sqlite3_vfs v;

	real = sqlite3_vfs_find(NULL);
	v = *real;
	v.zName = "fault";
	v.pNext = NULL;
	v.szOsFile = (int)sizeof(struct file) + real->szOsFile;
	v.xOpen = v_open;
	sqlite3_vfs_register(&v, 1);
}

void fault_at(unsigned n, bool for_ever, bool full)
{
	left = n;
	stays = for_ever;
	disk_full = full;
	happened = false;
}

bool fault_happened(void)
{
	return happened;
}
