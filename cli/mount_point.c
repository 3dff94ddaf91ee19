#include "mount_point.h"

#include <limits.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Blanks and the like stand there as three octal digits. */
static void decode(char *s)
{
	char *to = s;

	while (*s) {
		if (s[0] == '\\' && s[1] >= '0' && s[1] <= '3' && s[2] >= '0' && s[2] <= '7' &&
		    s[3] >= '0' && s[3] <= '7') {
			*to++ = (char)((s[1] - '0') * 64 + (s[2] - '0') * 8 + (s[3] - '0'));
			s += 4;
		} else {
			*to++ = *s++;
		}
	}
	*to = '\0';
}

static bool lies_in(const char *path, const char *mount)
{
	size_t n = strlen(mount);

	return !strcmp(mount, "/") ||
	       (!strncmp(path, mount, n) && (path[n] == '/' || path[n] == '\0'));
}

char *mount_point_in(const char *table, const char *path)
{
	FILE *f = fopen(table, "re");
	char *line = NULL, *best = NULL;
	size_t cap = 0;

	while (f && getline(&line, &cap, f) > 0) {
		char *save = NULL, *field = strtok_r(line, " \n", &save);

		/* 36 35 98:0 /root /mount/point ... */
		for (int i = 0; field && i < 4; i++)
			field = strtok_r(NULL, " \n", &save);
		if (!field)
			continue;
		decode(field);
		/* A later line covers an earlier one of the same place. */
		if (lies_in(path, field) && (!best || strlen(field) >= strlen(best))) {
			free(best);
			best = strdup(field);
		}
	}
	free(line);
	if (f)
		fclose(f);
	return best;
}

char *mount_point(const char *path)
{
	char *real = realpath(path, NULL);
	char *found = real ? mount_point_in("/proc/self/mountinfo", real) : NULL;

	free(real);
	return found;
}
