/*
 * Invented jobs, as trees: what the programs of all channels do, before anything is written down.
 * write_text.c writes such a tree as programs, write_model.c as processes for a model checker; the
 * two share nothing but the tree, and neither knows the code under test.
 */
#ifndef JOB_H
#define JOB_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

enum {
	JOB_CHANNELS = 4,
	JOB_UNITS = 4,   /* main program and three others */
	JOB_NODES = 320, /* of one channel; node 0 stands for none */
	JOB_VARS = 6,    /* #1 to #6 hold small numbers */
	JOB_ARGS = 3,    /* of a macro: #1 to #3 */
	JOB_LOOPS = 3,   /* loops that nest within one unit */
	JOB_LEVELS = 3,  /* slash levels 1 to 3 */
	JOB_SETTINGS = 16,
};

enum node_kind {
	NODE_MOVE,    /* a motion block */
	NODE_WAIT,    /* code, partners: written only in channels that are among them */
	NODE_SIGNAL,  /* code: sent by channel from, received by all others */
	NODE_SET,     /* #var = value */
	NODE_CALL,    /* M98 of unit, times */
	NODE_MACRO,   /* G65 of unit, times, with arguments */
	NODE_LOOP,    /* body, times; form: how it is written */
	NODE_WHILE,   /* body while cond */
	NODE_UNTIL,   /* body, and again if cond */
	NODE_ENDLESS, /* body for ever */
	NODE_SKIP,    /* body passed over if cond */
	NODE_EITHER,  /* other if cond, else body */
	NODE_JUMP,    /* body passed over always */
	NODE_CHOOSE,  /* body or other, by #var being 0 or 1: a computed jump */
	NODE_LEAVE,   /* out of the innermost loop if cond */
	NODE_THEN,    /* #var = value if cond */
	NODE_STOP,    /* the program's end, in its middle */
	NODE_KINDS
};

enum loop_form { LOOP_WHILE, LOOP_BACK, LOOP_WRITTEN_OUT, LOOP_FORMS };

/* #var + #plus + add, each part where it is not 0; or something that the program does not hold. */
struct term {
	uint8_t var, plus;
	int8_t add;
	bool unknown;
};

enum relation { REL_EQ, REL_NE, REL_GT, REL_LT, REL_COUNT };

struct cond {
	struct term left;
	uint8_t relation;
	int8_t right;
};

struct node {
	uint8_t kind, slash, form;
	uint8_t code;     /* 1 to JOB_CODES */
	uint8_t partners; /* channels, bit 0 for the first */
	uint8_t from, unit, times, var;
	struct term value;
	struct cond cond;
	struct term arg[JOB_ARGS]; /* A, B, C */
	uint8_t args;
	int16_t body, other, next;
};

struct tree {
	struct node node[JOB_NODES];
	int nodes;
	int16_t unit[JOB_UNITS]; /* the first node of each */
	int units;
	bool again; /* the main program ends with M99 */
};

struct job {
	uint64_t seed;
	int channels;
	enum { LIST_NONE, LIST_DIGITS, LIST_MASK } list; /* how codes name their partners */
	bool plain; /* no branches: signals, or partners and programs that begin again */
	bool signals;
	bool separate; /* switches of each channel's own */
	bool again;    /* M99 may end a main program */
	struct tree tree[JOB_CHANNELS];
};

/* xorshift64*: the same numbers everywhere. */
uint32_t job_below(uint64_t *seed, uint32_t n);

/* The job of this seed: the same always. */
void job_invent(struct job *j, uint64_t seed);

/* spoil.c: one small mistake, or change that may be none, in one channel. */
void job_spoil(struct job *j, uint64_t *seed);

/* A node more at the end of the tree, a copy of from; 0 when it is full. */
int16_t job_node(struct tree *t, const struct node *from);

/* The levels whose slash stands in channel c's tree: bits 1 to 3. */
unsigned job_levels(const struct job *j, int c);

/* Settings of the switches: how many, and which levels are on in channel c in the i-th. */
int job_settings(const struct job *j);
unsigned job_on(const struct job *j, int setting, int c);

/* write_text.c: the program of channel c. */
void job_write_text(const struct job *j, int c, FILE *out);

/* write_model.c: a process type for each channel of job number k. */
void job_write_model(const struct job *j, int k, FILE *out);

#endif
