#include "load_case.h"

#include <stdio.h>

char text[BED_TEXT];
uint8_t iso[BED_TEXT];
size_t text_len;

void make_text(size_t size)
{
	text_len = bed_text(text, iso, size);
}

void start(struct bed *b, const char *a1, const char *a2, const char *a3, const char *a4)
{
	const char *options[] = {
	    "--line", "0", "--faster", FASTER, "--pause", "0", a1, a2, a3, a4, NULL};

	make_text(3000);
	bed_start(b, options);
}

void end(struct bed *b)
{
	bed_stop(b);
	bed_remove(b);
}

void load(struct bed *b, int fd, const char *channel)
{
	char command[40];

	bed_expect(fd, 0x11);
	assert_true(bed_send(fd, iso, text_len, 0, false));
	snprintf(command, sizeof(command), "wait loaded %s", channel);
	assert_true(bed_ask(b, command));
}
