#include <ctype.h>
#include <stdarg.h>
#include <stdio.h>
#include "compare.h"

static int __attribute__((format(printf, 3, 4)))
differs(char *why, size_t n, const char *format, ...)
{
	va_list ap;

	va_start(ap, format);
	vsnprintf(why, n, format, ap);
	va_end(ap);
	return 1;
}

static bool column_equal(sqlite3_stmt *a, sqlite3_stmt *b, int i)
{
	int type = sqlite3_column_type(a, i);
	const void *x, *y;

	if (type != sqlite3_column_type(b, i))
		return false;
	if (type == SQLITE_INTEGER)
		return sqlite3_column_int64(a, i) == sqlite3_column_int64(b, i);
	if (type == SQLITE_NULL)
		return true;
	x = sqlite3_column_blob(a, i);
	y = sqlite3_column_blob(b, i);
	return sqlite3_column_bytes(a, i) == sqlite3_column_bytes(b, i) &&
	       (sqlite3_column_bytes(a, i) == 0 ||
	           (x && y && memcmp(x, y, (size_t)sqlite3_column_bytes(a, i)) == 0));
}

/* The key of the row at hand for a person; what no terminal should see becomes '?'. */
static void key_text(sqlite3_stmt *s, int keys, char *out, size_t size)
{
	size_t at = 0;

	for (int i = 0; i < keys; i++) {
		size_t n;
		const char *t = sqlite3_column_type(s, i) == SQLITE_BLOB ? "" : db_column(s, i, &n);

		if (i > 0 && at + 1 < size)
			out[at++] = '/';
		for (; *t && at + 1 < size; t++)
			out[at++] =
			    isascii((unsigned char)*t) && isprint((unsigned char)*t) ? *t : '?';
	}
	out[at] = 0;
}

static int key_order(sqlite3_stmt *a, sqlite3_stmt *b, int keys)
{
	for (int i = 0; i < keys; i++) {
		size_t n, m;
		const void *x, *y;
		int r;

		if (column_equal(a, b, i))
			continue;
		if (sqlite3_column_type(a, i) == SQLITE_INTEGER)
			return sqlite3_column_int64(a, i) < sqlite3_column_int64(b, i) ? -1 : 1;
		x = sqlite3_column_blob(a, i);
		y = sqlite3_column_blob(b, i);
		n = (size_t)sqlite3_column_bytes(a, i);
		m = (size_t)sqlite3_column_bytes(b, i);
		r = n && m ? memcmp(x, y, n < m ? n : m) : 0;
		return r ? r : n < m ? -1 : 1;
	}
	return 0;
}

/* a is a row of the vault, b of the replay; has_* tells which of them is there. */
static int compare_rows(const struct schema_table *t, sqlite3_stmt *a, bool has_a, sqlite3_stmt *b,
    bool has_b, char *why, size_t n)
{
	char key[200];
	int order = has_a && has_b ? key_order(a, b, t->keys) : has_a ? -1 : 1;

	key_text(order <= 0 ? a : b, t->keys, key, sizeof(key));
	if (order < 0)
		return differs(
		    why, n, "the state has a row that no entry made: %s %s", t->name, key);
	if (order > 0)
		return differs(why, n, "a row of the state is missing: %s %s", t->name, key);
	for (int i = t->keys; i < sqlite3_column_count(a); i++) {
		if (!column_equal(a, b, i))
			return differs(why, n,
			    "the state is not what the entries make: %s %s, column %s", t->name,
			    key, sqlite3_column_name(a, i));
	}
	return 0;
}

int compare_table(
    struct vault *v, struct vault *replay, const struct schema_table *t, char *why, size_t n)
{
	sqlite3_stmt *a = db_stmt_once(v, t->select, NULL, 0);
	sqlite3_stmt *b = db_stmt_once(replay, t->select, NULL, 0);
	int r = a && b ? 0 : -1, x = 0, y = b ? 0 : -1;

	while (r == 0) {
		x = db_next(v, a);
		y = db_next(replay, b);
		if (x < 0 || y < 0)
			r = -1;
		else if (x == 0 && y == 0)
			break;
		else
			r = compare_rows(t, a, x == 1, b, y == 1, why, n);
	}
	if (y < 0)
		db_say(v, "the replay cannot be read: %.400s", replay->error);
	db_done(v, a);
	db_done(replay, b);
	return r;
}
