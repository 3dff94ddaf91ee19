#include "fault.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

int fault_set(struct fault *f, enum carry_error error, uint32_t item, const char *format, ...)
{
	va_list ap;

	if (f->error != CARRY_ERROR_NONE)
		return -1;
	f->error = error;
	f->item = item;
	va_start(ap, format);
	vsnprintf(f->text, sizeof f->text, format, ap);
	va_end(ap);
	return -1;
}

static enum carry_error kind(int e)
{
	switch (e) {
	case ENOSPC:
	case EDQUOT:
	case EFBIG:
		return CARRY_ERROR_SPACE;
	case ENAMETOOLONG:
	case EILSEQ:
		return CARRY_ERROR_NAME;
	case ESTALE:
	case ENODEV:
	case ENXIO:
	case ETIMEDOUT:
	case EHOSTDOWN:
	case EHOSTUNREACH:
	case ENETUNREACH:
	case ECONNREFUSED:
	case ENOTCONN:
		return CARRY_ERROR_OFFLINE;
	case EACCES:
	case EPERM:
	case EROFS:
		return CARRY_ERROR_REFUSED;
	case EBUSY:
	case ETXTBSY:
		return CARRY_ERROR_BUSY;
	}
	return CARRY_ERROR_IO;
}

int fault_errno(struct fault *f, int e, uint32_t item, const char *format, ...)
{
	va_list ap;

	if (f->error != CARRY_ERROR_NONE)
		return -1;
	f->error = kind(e);
	f->item = item;
	va_start(ap, format);
	vsnprintf(f->text, sizeof f->text, format, ap);
	va_end(ap);
	fault_add(f, ": %s", strerror(e));
	return -1;
}

void fault_add(struct fault *f, const char *format, ...)
{
	size_t n = strlen(f->text);
	va_list ap;

	va_start(ap, format);
	vsnprintf(f->text + n, sizeof f->text - n, format, ap);
	va_end(ap);
}
