/*
 * Writes programs to measure with: straight text as a shop's CAM system puts it out, an invented
 * part, the same bytes at every run.
 *
 *     bench-program BYTES CHANNEL JOB > FILE     one program of at least BYTES bytes
 *     bench-program waits CODES CHANNEL JOB > FILE   one with that many wait codes, and little else
 *     bench-program tree DIR FILES               that many small programs in pairs, 100 a folder
 */
#include <errno.h>
#include <inttypes.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

enum {
	SECTION = 200, /* blocks between two wait codes */
	FOLDER = 100,  /* files in one folder of a tree */
	SMALL = 2000,  /* bytes of a tree's program */
	BLOCKS = 52,   /* bytes of two of its blocks */
};

/* A fixed sequence: any will do that is not regular to the eye of a branch predictor. */
static unsigned draw(uint32_t *seed, unsigned below)
{
	*seed = *seed * 1664525 + 1013904223;
	return (unsigned)((uint64_t)*seed * below >> 32);
}

static int motion(FILE *f, bool upper, uint32_t *seed)
{
	unsigned x = draw(seed, 90000), z = draw(seed, 40000), y = draw(seed, 30000);

	if (upper)
		return fprintf(f, "X%u.%03u Y-%u.%03u Z%u.%03u\n", x / 1000, x % 1000, y / 1000,
		    y % 1000, z / 1000, z % 1000);
	return fprintf(f, "G1 X%u.%03u Z-%u.%03u F0.%02u\n", x / 1000, x % 1000, z / 1000, z % 1000,
	    10 + y % 20);
}

/* Both channels of a job meet at the same codes as long as their sizes ask for the same number of
 * sections. */
static void program(FILE *f, uint64_t bytes, unsigned sections, const char *channel,
    const char *job, unsigned number)
{
	bool upper = strcmp(channel, "upper") == 0;
	uint32_t seed = upper ? 1 : 2;
	uint64_t n = 0;

	fprintf(f, "%%\nO%u (JOB %s REV A %s)\nG0 G21 G40 G80 X150. Z200.\n", number, job, channel);
	for (unsigned s = 0; s < sections; s++) {
		fprintf(f, "M%u\nT%02u%02u\nG0 X90. Z5.\n", 201 + s % 99, 1 + s % 12, 1 + s % 12);
		while (n * sections < bytes * (s + 1))
			n += (uint64_t)motion(f, upper, &seed);
	}
	fputs("M30\n%\n", f);
}

static unsigned sections_of(uint64_t bytes)
{
	uint64_t n = bytes / 26 / SECTION;

	return n ? (unsigned)n : 1;
}

static int wrong(const char *what)
{
	fprintf(stderr, "bench-program: %s: %s\n", what, strerror(errno));
	return 1;
}

static int tree(const char *dir, unsigned files)
{
	static const char *const channel[] = {"upper", "lower"};
	char path[4096], job[16];

	for (unsigned i = 0; i < files; i++) {
		FILE *f;

		if (i % FOLDER == 0) {
			snprintf(path, sizeof(path), "%s/shelf%03u", dir, i / FOLDER);
			if (mkdir(path, 0755))
				return wrong(path);
		}
		snprintf(job, sizeof(job), "T%05u", i / 2);
		snprintf(path, sizeof(path), "%s/shelf%03u/%s-A.%s.nc", dir, i / FOLDER, job,
		    channel[i % 2]);
		f = fopen(path, "wx");
		if (!f)
			return wrong(path);
		program(f, SMALL, 2, channel[i % 2], job, 1 + i / 2);
		if (fclose(f))
			return wrong(path);
	}
	return 0;
}

int main(int argc, char **argv)
{
	if (argc == 4 && strcmp(argv[1], "tree") == 0)
		return tree(argv[2], (unsigned)strtoul(argv[3], NULL, 10));
	if (argc == 5 && strcmp(argv[1], "waits") == 0) {
		unsigned codes = (unsigned)strtoul(argv[2], NULL, 10);

		program(stdout, (uint64_t)codes * BLOCKS, codes ? codes : 1, argv[3], argv[4], 4417);
	} else if (argc == 4) {
		uint64_t bytes = strtoull(argv[1], NULL, 10);

		program(stdout, bytes, sections_of(bytes), argv[2], argv[3], 4417);
	} else {
		fprintf(stderr, "usage: bench-program BYTES CHANNEL JOB | waits CODES CHANNEL JOB | "
				"tree DIR FILES\n");
		return 2;
	}
	return fflush(stdout) || ferror(stdout) ? wrong("output") : 0;
}
