#include "filename.h"

#include <stdio.h>
#include <string.h>
#include <strings.h>

static const char *const ignored_endings[] = {
    ".bak",
    ".bk",
    ".tmp",
    ".temp",
    ".swp",
    ".swo",
    ".swx",
    ".old",
    ".orig",
    ".part",
    ".partial",
    ".filepart",
    ".crdownload",
    ".lock",
    ".lck",
    ".save",
};

static const char *const ignored_names[] = {
    "4913",
    "thumbs.db",
    "desktop.ini",
    "lost+found",
    "$recycle.bin",
    "system volume information",
};

#define COUNT(a) (sizeof(a) / sizeof((a)[0]))

size_t filename_utf8(const unsigned char *s, size_t n)
{
	if (n == 0)
		return 0;
	if (s[0] < 0x80)
		return 1;
	size_t len = s[0] >= 0xC2 && s[0] <= 0xDF   ? 2
	             : s[0] >= 0xE0 && s[0] <= 0xEF ? 3
	             : s[0] >= 0xF0 && s[0] <= 0xF4 ? 4
	                                            : 0;
	if (len == 0 || len > n)
		return 0;
	for (size_t i = 1; i < len; i++)
		if ((s[i] & 0xC0) != 0x80)
			return 0;
	/* Overlong forms, surrogates and values above U+10FFFF show in the second byte. */
	if ((s[0] == 0xE0 && s[1] < 0xA0) || (s[0] == 0xED && s[1] > 0x9F) ||
	    (s[0] == 0xF0 && s[1] < 0x90) || (s[0] == 0xF4 && s[1] > 0x8F))
		return 0;
	return len;
}

static bool ignored(const char *name, size_t len)
{
	if (name[0] == '.' || name[0] == '~' || name[len - 1] == '~')
		return true;
	if (len > 1 && name[0] == '#' && name[len - 1] == '#')
		return true;
	for (size_t i = 0; i < COUNT(ignored_names); i++)
		if (strcasecmp(name, ignored_names[i]) == 0)
			return true;
	for (size_t i = 0; i < COUNT(ignored_endings); i++) {
		size_t end = strlen(ignored_endings[i]);

		if (len > end && strcasecmp(name + len - end, ignored_endings[i]) == 0)
			return true;
	}
	return false;
}

enum filename_kind filename_check(const char *name)
{
	size_t len = strlen(name);
	const unsigned char *s = (const unsigned char *)name;

	if (len == 0 || strcmp(name, ".") == 0 || strcmp(name, "..") == 0 || strchr(name, '/'))
		return FILENAME_DOTS;
	if (ignored(name, len))
		return FILENAME_IGNORED;
	for (size_t i = 0, step; i < len; i += step) {
		step = filename_utf8(s + i, len - i);
		if (step == 0)
			return FILENAME_ENCODING;
		if (s[i] < 0x20 || s[i] == 0x7F || (s[i] == 0xC2 && s[i + 1] < 0xA0))
			return FILENAME_CONTROL;
	}
	return FILENAME_PLAIN;
}

bool filename_under(const char *path, const char *dir)
{
	size_t len = strlen(dir);

	if (len == 0)
		return true;
	return strncmp(path, dir, len) == 0 && (path[len] == '\0' || path[len] == '/');
}

unsigned filename_depth(const char *path)
{
	unsigned depth = *path != '\0';

	for (; *path; path++)
		depth += *path == '/';
	return depth;
}

/* Bytes of s that are shown together; *shown is what they take, 4 for one byte as \xNN. */
static size_t show_step(const unsigned char *s, size_t left, size_t *shown)
{
	size_t len = filename_utf8(s, left);

	if (len == 0 || *s < 0x20 || *s == 0x7F || (len == 2 && *s == 0xC2 && s[1] < 0xA0)) {
		*shown = 4;
		return 1;
	}
	*shown = len;
	return len;
}

const char *filename_text(const char *path, char *out, size_t size)
{
	const unsigned char *s = (const unsigned char *)path;
	size_t left = strlen(path), used = 0, whole = 0, shown;

	for (size_t i = 0; i < left; whole += shown)
		i += show_step(s + i, left - i, &shown);
	/* What does not fit leaves room for "...". */
	size_t room = whole < size ? size - 1 : size - 4;
	while (left > 0) {
		size_t step = show_step(s, left, &shown);

		if (used + shown > room) {
			memcpy(out + used, "...", 3);
			used += 3;
			break;
		}
		if (shown == step)
			memcpy(out + used, s, step);
		else
			snprintf(out + used, 5, "\\x%02X", *s);
		used += shown;
		s += step;
		left -= step;
	}
	out[used] = '\0';
	return out;
}
