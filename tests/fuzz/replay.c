/*
 * Stands in for libFuzzer where there is none: runs a target on every file of its corpus, and on a
 * number of inputs made from them, the same at every run.
 *
 *     replay_TARGET CORPUS ROUNDS [FIRST]
 *
 * When an input fails it is written to fuzz-failed in the current folder, and the round is told: as
 * FIRST it comes first.
 */
#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include "input.h"

enum { FILES = 256, LONGEST = 8192 };

struct seed {
	size_t n;
	uint8_t *bytes;
};

static struct seed corpus[FILES];
static size_t files;

/* The input at work, for the last words. */
static const uint8_t *now;
static size_t now_n;
static unsigned long now_round;

static void last_words(void)
{
	char text[64];
	int fd = open("fuzz-failed", O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0644);
	int n = snprintf(text, sizeof(text), "failed in round %lu\n", now_round);

	if (fd < 0 || write(fd, now, now_n) != (ssize_t)now_n || write(2, text, (size_t)n) != n)
		return;
	close(fd);
}

static void on_signal(int number)
{
	signal(number, SIG_DFL);
	last_words();
	raise(number);
}

/* Of the sanitizers' runtime, where there is one: <sanitizer/common_interface_defs.h>. */
void __sanitizer_set_death_callback(void (*fn)(void)) __attribute__((weak));

static int complain(const char *what)
{
	fprintf(stderr, "replay: %s: %s\n", what, strerror(errno));
	return -1;
}

static int load_file(int folder, const char *name)
{
	struct seed *s = &corpus[files];
	int fd = openat(folder, name, O_RDONLY | O_CLOEXEC);
	ssize_t n;

	s->bytes = malloc(LONGEST);
	n = fd < 0 || !s->bytes ? -1 : read(fd, s->bytes, LONGEST);
	if (fd >= 0)
		close(fd);
	if (n < 0)
		return complain(name);
	s->n = (size_t)n;
	files++;
	return 0;
}

static int by_name(const struct dirent **a, const struct dirent **b)
{
	return strcmp((*a)->d_name, (*b)->d_name);
}

static int load(const char *path)
{
	struct dirent **entry = NULL;
	int folder = open(path, O_RDONLY | O_DIRECTORY | O_CLOEXEC), result = 0;
	int n = folder < 0 ? -1 : scandir(path, &entry, NULL, by_name);

	if (n < 0)
		return complain(path);
	for (int i = 0; i < n; i++) {
		if (entry[i]->d_name[0] != '.' && files < FILES &&
		    load_file(folder, entry[i]->d_name))
			result = -1;
		free(entry[i]);
	}
	free(entry);
	close(folder);
	errno = ENOENT;
	return result == 0 && files == 0 ? complain("no corpus") : result;
}

static uint32_t seed;

static size_t draw(size_t below)
{
	return below ? input_step(&seed, below) - 1 : 0;
}

/* What programs, names and settings are made of. */
static const char *const words[] = {"%", "\n", "\r\n", "\r\r\n", "O1", "M30", "M99", "M201", "M202",
    "M98 P1 L2", "/2", "(", ")", ";", "N10", "G1 X1. Z-2.5 F0.2", "G41", "G65", "#1=[#2+1.]",
    "IF[#1EQ1]GOTO10", "WHILE[1LT2]DO1", "END1", "(JOB J1 REV A UPPER)", "{job}", "{rev}",
    "{channel}", "{number}", "[section]", "key = value", "\xEF\xBB\xBF", "\xE2\x80\x8B", "%41",
    "/v1/machines/", "99999999999999999999", "-", ".", "\x01", "\x11", "\x13", "\x93",
    "\xff\xff\xff\xff"};

static size_t put(uint8_t *to, size_t n, size_t at, const void *bytes, size_t more)
{
	if (n + more > LONGEST)
		return n;
	memmove(to + at + more, to + at, n - at);
	memcpy(to + at, bytes, more);
	return n + more;
}

static size_t change(uint8_t *b, size_t n)
{
	size_t at = draw(n + 1), length = draw(n - at + 1) % 64;
	const struct seed *other = &corpus[draw(files)];
	uint8_t copy[64];
	const char *w;

	switch (draw(8)) {
	case 0:
		if (at < n)
			b[at] ^= (uint8_t)(1u << draw(8));
		return n;
	case 1:
		if (at < n)
			b[at] = (uint8_t)draw(256);
		return n;
	case 2:
		memmove(b + at, b + at + length, n - at - length);
		return n - length;
	case 3: /* the same again */
		memcpy(copy, b + at, length);
		return put(b, n, at, copy, length);
	case 4: /* a piece of another file */
		at = at < other->n ? at : other->n;
		length = draw(other->n - at + 1);
		return put(b, n, draw(n + 1), other->bytes + at, length);
	case 5:
		return at; /* cut off */
	default:
		w = words[draw(sizeof(words) / sizeof(words[0]))];
		return put(b, n, at, w, strlen(w));
	}
}

static void run(const uint8_t *bytes, size_t n)
{
	uint8_t *exact = malloc(n ? n : 1); /* so that a sanitizer sees a read past the end */

	must(exact != NULL);
	memcpy(exact, bytes, n);
	now = exact;
	now_n = n;
	LLVMFuzzerTestOneInput(exact, n);
	free(exact);
}

int main(int argc, char **argv)
{
	static uint8_t bytes[LONGEST];
	unsigned long rounds = argc > 2 ? strtoul(argv[2], NULL, 10) : 0;

	if (argc < 3 || argc > 4) {
		fprintf(stderr, "usage: %s CORPUS ROUNDS [FIRST]\n", argv[0]);
		return 2;
	}
	if (load(argv[1]))
		return 1;
	signal(SIGABRT, on_signal);
	signal(SIGSEGV, on_signal);
	if (__sanitizer_set_death_callback)
		__sanitizer_set_death_callback(last_words);
	for (size_t i = 0; i < files; i++)
		run(corpus[i].bytes, corpus[i].n);
	for (now_round = argc > 3 ? strtoul(argv[3], NULL, 10) : 1; now_round <= rounds;
	     now_round++) {
		const struct seed *s;
		size_t n;

		seed = (uint32_t)now_round * 2654435761u | 1;
		s = &corpus[draw(files)];
		n = s->n;
		memcpy(bytes, s->bytes, n);
		for (size_t changes = 1 + draw(8); changes > 0; changes--)
			n = change(bytes, n);
		run(bytes, n);
	}
	printf("%zu files, %lu rounds\n", files, rounds);
	for (size_t i = 0; i < files; i++)
		free(corpus[i].bytes);
	return 0;
}
