/* What each of the operator's commands does. */
#ifndef BENCH_COMMANDS_H
#define BENCH_COMMANDS_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

struct bench;
struct channel;

enum commands_wait {
	COMMANDS_NONE = 0,
	COMMANDS_LOADED,    /* a load ended that nobody has waited for */
	COMMANDS_PUNCHED,   /* likewise a punch */
	COMMANDS_HELD,      /* the channel holds the line with DC3 for ever */
	COMMANDS_CONNECTED, /* somebody is connected to the channel's line */
};

struct commands_answer {
	FILE *head;  /* text after `ok` or `error`; one line, without its end */
	FILE *lines; /* lines of the answer, without the leading blank */
	bool error;
	bool quit;
	enum commands_wait wait; /* not NONE: the answer comes when this holds */
	struct channel *channel;
	uint64_t seconds;
};

/* Runs one command line, which is changed. The answer's files are the caller's. */
void commands_run(struct bench *b, char *line, struct commands_answer *a);

/* Whether what a wait waits for has come; then the head is written. */
bool commands_fulfilled(struct commands_answer *a);

#endif
