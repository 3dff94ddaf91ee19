#include "scarce.h"

#include <stddef.h>

static long countdown = -1;
static bool only_one, struck;

void *__real_malloc(size_t n);
void *__real_calloc(size_t n, size_t size);
void *__real_realloc(void *p, size_t n);
void *__real_reallocarray(void *p, size_t n, size_t size);
char *__real_strdup(const char *s);
void *__wrap_malloc(size_t n);
void *__wrap_calloc(size_t n, size_t size);
void *__wrap_realloc(void *p, size_t n);
void *__wrap_reallocarray(void *p, size_t n, size_t size);
char *__wrap_strdup(const char *s);

void scarce_after(long allocations, bool once)
{
	countdown = allocations;
	only_one = once;
	struck = false;
}

bool scarce_struck(void)
{
	return struck;
}

static bool fails(void)
{
	if (countdown < 0)
		return false;
	if (countdown > 0) {
		countdown--;
		return false;
	}
	struck = true;
	if (only_one)
		countdown = -1;
	return true;
}

void *__wrap_malloc(size_t n)
{
	return fails() ? NULL : __real_malloc(n);
}

void *__wrap_calloc(size_t n, size_t size)
{
	return fails() ? NULL : __real_calloc(n, size);
}

void *__wrap_realloc(void *p, size_t n)
{
	return fails() ? NULL : __real_realloc(p, n);
}

void *__wrap_reallocarray(void *p, size_t n, size_t size)
{
	return fails() ? NULL : __real_reallocarray(p, n, size);
}

char *__wrap_strdup(const char *s)
{
	return fails() ? NULL : __real_strdup(s);
}
