#include "person.h"

#include <ctype.h>
#include <grp.h>
#include <pwd.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { NAME = 40, BUFFER = 16384, OVERFLOW = 65534 };

/* What a name of the system's lists may look like in a sentence. */
static void visible(const char *name, char out[NAME + 1])
{
	size_t n = 0;

	for (; *name && n < NAME; name++)
		out[n++] = isascii((unsigned char)*name) && isgraph((unsigned char)*name) &&
		                   !strchr("(),", *name)
		               ? *name
		               : '?';
	out[n] = '\0';
}

/* The number that stands for users who have none in this namespace, or behind a server that hides
 * them: user_namespaces(7). */
static uid_t overflow_uid(void)
{
	static uid_t known;
	unsigned long value = OVERFLOW;
	FILE *f;

	if (known)
		return known;
	f = fopen("/proc/sys/kernel/overflowuid", "re");
	if (f && fscanf(f, "%lu", &value) != 1)
		value = OVERFLOW;
	if (f)
		fclose(f);
	known = (uid_t)value;
	return known;
}

/* A name, or false: nobody is called so. */
static bool name_of(uid_t uid, char out[NAME + 1])
{
	struct passwd pw, *found = NULL;
	char buffer[BUFFER];

	if (getpwuid_r(uid, &pw, buffer, sizeof(buffer), &found) || !found)
		return false;
	visible(pw.pw_name, out);
	return true;
}

static void user(uid_t uid, const char *more, char *out, size_t n)
{
	char name[NAME + 1];

	if (uid == overflow_uid())
		snprintf(out, n, "uid %u, put by the kernel in place of another", uid);
	else if (name_of(uid, name))
		snprintf(out, n, "%s (uid %u%s)", name, uid, more);
	else
		snprintf(out, n, "uid %u, no such user", uid);
}

void person_user(uid_t uid, char *out, size_t n)
{
	user(uid, "", out, n);
}

void person_user_group(uid_t uid, gid_t gid, char *out, size_t n)
{
	char group[NAME + 1], more[NAME + 16];

	person_group(gid, group, sizeof(group));
	snprintf(more, sizeof(more), ", group %s", group);
	user(uid, more, out, n);
}

void person_group(gid_t gid, char *out, size_t n)
{
	struct group gr, *found = NULL;
	char buffer[BUFFER], name[NAME + 1];

	if (getgrgid_r(gid, &gr, buffer, sizeof(buffer), &found) || !found) {
		snprintf(out, n, "gid %u", gid);
		return;
	}
	visible(gr.gr_name, name);
	snprintf(out, n, "%s", name);
}

/* All of s in digits. The last number stands for "none" to the kernel. */
static bool number(const char *s, uint32_t *out)
{
	uint64_t value = 0;
	size_t n = strlen(s);

	if (n == 0 || n > 10 || strspn(s, "0123456789") != n)
		return false;
	for (; *s; s++)
		value = value * 10 + (uint64_t)(*s - '0');
	*out = (uint32_t)value;
	return value < UINT32_MAX;
}

bool person_uid(const char *name, uid_t *uid)
{
	return number(name, uid) || person_login(name, uid);
}

bool person_login(const char *name, uid_t *uid)
{
	struct passwd pw, *found = NULL;
	char buffer[BUFFER];

	if (getpwnam_r(name, &pw, buffer, sizeof(buffer), &found) || !found)
		return false;
	*uid = pw.pw_uid;
	return true;
}

bool person_gid(const char *name, gid_t *gid)
{
	struct group gr, *found = NULL;
	char buffer[BUFFER];

	if (number(name, gid))
		return true;
	if (getgrnam_r(name, &gr, buffer, sizeof(buffer), &found) || !found)
		return false;
	*gid = gr.gr_gid;
	return true;
}

size_t person_groups(uid_t uid, gid_t *gid, size_t max)
{
	struct passwd pw, *found = NULL;
	char buffer[BUFFER];
	int n = (int)max;

	if (getpwuid_r(uid, &pw, buffer, sizeof(buffer), &found) || !found)
		return 0;
	/* With too little room it fills what there is. */
	if (getgrouplist(pw.pw_name, pw.pw_gid, gid, &n) < 0)
		return max;
	return n > 0 ? (size_t)n : 0;
}

bool person_is(const char *who, uid_t *uid)
{
	const char *at = strstr(who, " (uid ");
	char digits[11];
	size_t n;

	if (!at || at == who)
		return false;
	at += strlen(" (uid ");
	n = strspn(at, "0123456789");
	if (n == 0 || n > 10 || (strcmp(at + n, ")") != 0 && strncmp(at + n, ", group ", 8) != 0))
		return false;
	memcpy(digits, at, n);
	digits[n] = '\0';
	return number(digits, uid);
}
