#include "mend.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>
#include "person.h"
#include "rescue.h"
#include "sha256.h"

/* HOME/vault/yoke.db, its folder made. 0, -1 said. */
static int path_of(const char *home, char *out, size_t n)
{
	struct stat st;

	snprintf(out, n, "%s/vault", home);
	if (mkdir(out, 0700) == 0) {
		/* As with the files: the service is often another one than who does this. */
		if (geteuid() == 0 && stat(home, &st) == 0 && lchown(out, st.st_uid, st.st_gid) < 0)
			fprintf(stderr, "yoked: %s: cannot be given to the home's owner: %s\n", out,
			    strerror(errno));
	} else if (errno != EEXIST) {
		fprintf(stderr, "yoked: %s: the vault's folder cannot be made: %s\n", out,
		    strerror(errno));
		return -1;
	}
	snprintf(out, n, "%s/vault/yoke.db", home);
	return 0;
}

static struct vault_by by_me(char *who, size_t n)
{
	struct timespec now;

	person_user(getuid(), who, n);
	clock_gettime(CLOCK_REALTIME, &now);
	return (struct vault_by){
	    (int64_t)now.tv_sec * 1000000 + now.tv_nsec / 1000, who, "command"};
}

/* Files that root made belong to whoever has the folder: the service must be able to open them. */
static void hand_over(const char *path)
{
	static const char *const tail[] = {"", ".end", ".lock"};
	char name[YOKE_PATH_MAX + 64];
	struct stat st;

	snprintf(name, sizeof(name), "%.*s", (int)(strrchr(path, '/') - path), path);
	if (geteuid() != 0 || stat(name, &st) < 0 || st.st_uid == 0)
		return;
	for (size_t i = 0; i < sizeof(tail) / sizeof(tail[0]); i++) {
		snprintf(name, sizeof(name), "%s%s", path, tail[i]);
		if (lchown(name, st.st_uid, st.st_gid) < 0 && errno != ENOENT)
			fprintf(stderr, "yoked: %s: cannot be given to the folder's owner: %s\n", name,
			    strerror(errno));
	}
}

int mend_restore(const char *home, const char *file, bool set_aside)
{
	char path[YOKE_PATH_MAX + 32], who[200], aside[RESCUE_PATH], why[1200];
	char head[YOKE_SHA_HEX + 1];
	struct vault_by by = by_me(who, sizeof(who));
	struct rescue_content c;

	if (path_of(home, path, sizeof(path)))
		return 1;
	if (rescue_bring(file, path, set_aside, &by, &c, aside, why, sizeof(why))) {
		fprintf(stderr, "yoked: %s\n", why);
		return 1;
	}
	hand_over(path);
	sha256_hex(c.head.b, head);
	printf("restored from %s: %llu entries, %llu programs, verified\nhead of the chain there: %s\n", file,
	    (unsigned long long)c.events, (unsigned long long)c.programs, head);
	if (*aside)
		printf("the vault that was there: %s\n", aside);
	printf("Orders that waited are cancelled, and what the machines hold is not known: it may have changed "
	       "since.\nNeither configuration nor keys are in a back-up: yoke.conf, machines/ and the key that "
	       "signs the trail are files of their own.\n");
	return 0;
}

static void say_lost(void *ctx, const char *line)
{
	printf("lost: %s\n", line);
}

int mend_repair(const char *home)
{
	char path[YOKE_PATH_MAX + 32], who[200], aside[RESCUE_PATH], why[1200];
	struct vault_by by = by_me(who, sizeof(who));
	struct rescue_repair o;

	if (path_of(home, path, sizeof(path)))
		return 1;
	if (rescue_repair(path, &by, &o, say_lost, NULL, aside, why, sizeof(why))) {
		fprintf(stderr, "yoked: %s\n", why);
		return 1;
	}
	hand_over(path);
	printf("saved: %llu entries, %llu programs, %llu checkpoints; lost: %llu entries, %llu programs, %llu "
	       "checkpoints\n",
	    (unsigned long long)o.events, (unsigned long long)o.programs,
	    (unsigned long long)o.checkpoints,
	    (unsigned long long)(o.lost_to ? o.lost_to - o.lost_from + 1 : 0),
	    (unsigned long long)o.lost_programs, (unsigned long long)o.lost_checkpoints);
	printf("the new vault %s: %s\nthe damaged one, as it was: %s\n",
	    o.good ? "verifies" : "DOES NOT VERIFY", o.text, aside);
	if (o.lost_to)
		printf("Orders that waited are cancelled, and what the machines hold is not known: the last entries "
		       "are missing. A back-up may have more.\n");
	return 0;
}
