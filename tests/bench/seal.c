/*
 * The sealed trail at size: a vault of so many entries, verified; against one SHA-256 over as many bytes as the
 * entries have, twice (chain and tree). And how long a proof takes, and a checkpoint.
 *
 *     bench-seal DIR COUNT     prints: verify s, hashing s (of processor), proof us, checkpoint us, kB more in memory for a proof
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>
#include "hash.h"
#include "vault.h"
#include "vault_seal.h"

enum { PROOFS = 200, RUN = 10000 };

/* Seconds by the wall, and of this process on a processor: others are on them too. */
static double clock_at(clockid_t which)
{
	struct timespec t;

	clock_gettime(which, &t);
	return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

static double now(void)
{
	return clock_at(CLOCK_MONOTONIC);
}

static double busy(void)
{
	return clock_at(CLOCK_PROCESS_CPUTIME_ID);
}

static int die(struct vault *v)
{
	fprintf(stderr, "bench-seal: %s\n", v ? vault_error(v) : "no memory");
	return 1;
}

/* As many entries, of a machine that is locked and unlocked. */
static int fill(struct vault *v, long count)
{
	static const char detail[] = "{\"findings\":[],\"wait\":{\"upper\":[100,200],\"lower\":[100,200]}}";
	struct vault_about about = {.machine = "LATHE1",
	    .text = "the setter measures the tools of both channels",
	    .detail = detail};

	for (long i = 0; i < count; i++) {
		struct vault_by by = {1700000000000000 + i * 1000, "shop (uid 1000)", "socket"};

		if (i % RUN == 0 && vault_begin(v))
			return -1;
		if (!(i % 2 ? vault_record_unlocked : vault_record_locked)(v, &by, &about))
			return -1;
		if ((i % RUN == RUN - 1 || i == count - 1) && vault_commit(v))
			return -1;
	}
	return 0;
}

static int name_key(struct vault *v, const struct ed25519 *key)
{
	char named[NOTE_KEY_MAX + 1];
	struct vault_by by = {1700000000000000, "service", "service"};
	struct vault_about about = {.outcome = named};

	if (vault_begin(v) || vault_key_text(v, key, named) || !vault_record_keyed(v, &by, &about) ||
	    vault_seal(v, key, NULL, 1700000000) != 1)
		return -1;
	return vault_commit(v);
}

/* The time of SHA-256 over the bytes of so many entries, twice. */
static double hashing(long count, size_t bytes)
{
	struct hash *h = hash_new();
	char *entry = calloc(1, bytes);
	double start = busy();
	struct sha sum;

	for (long i = 0; h && entry && i < 2 * count; i++) {
		hash_start(h);
		hash_add(h, entry, bytes);
		if (hash_end(h, &sum))
			break;
	}
	start = busy() - start;
	free(entry);
	hash_free(h);
	return start;
}

static long memory_kb(void)
{
	struct rusage r;

	getrusage(RUSAGE_SELF, &r);
	return r.ru_maxrss;
}

int main(int argc, char **argv)
{
	long count = argc == 3 ? strtol(argv[2], NULL, 10) : 0, before;
	double verify, seal, prove;
	struct vault_verdict out;
	struct ed25519 *key = ed25519_make();
	struct vault *v;
	struct text t = {0};
	char path[1000], why[500];
	size_t bytes;

	if (count < 1) {
		fprintf(stderr, "usage: bench-seal DIR COUNT\n");
		return 2;
	}
	snprintf(path, sizeof(path), "%s/seal.db", argv[1]);
	v = vault_open(path, why, sizeof(why));
	if (!v || !key || name_key(v, key) || fill(v, count))
		return die(v);
	seal = now();
	if (vault_seal(v, key, NULL, 1700000001) != 1)
		return die(v);
	seal = now() - seal;
	before = memory_kb();
	prove = now();
	for (int i = 0; i < PROOFS; i++) {
		text_free(&t);
		if (vault_prove(v, 2 + (uint64_t)i * (uint64_t)count / PROOFS, &t) != 1)
			return die(v);
	}
	prove = (now() - prove) / PROOFS;
	before = memory_kb() - before;
	/* From the proof: base64 of an entry's bytes stands in its second line. */
	bytes = strcspn(strchr(t.s, '\n') + 7, "\n") / 4 * 3;
	text_free(&t);
	verify = busy();
	if (vault_verify(v, true, &out) || !out.good)
		return die(v);
	verify = busy() - verify;
	printf("%.2f %.2f %.0f %.0f %ld\n", verify, hashing(count, bytes), prove * 1e6, seal * 1e6, before);
	vault_close(v);
	ed25519_free(key);
	return 0;
}
