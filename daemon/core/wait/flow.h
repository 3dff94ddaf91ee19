/*
 * The inside of a flow: what matters of a program for its wait codes, as instructions. Motion
 * blocks leave nothing here. Built block by block (flow.c and its helpers), resolved once at the
 * end (resolve.c), then only read: walks run over it.
 */
#ifndef WAIT_FLOW_H
#define WAIT_FLOW_H

#include "expr.h"
#include "wait.h"

#define WAIT_NOWHERE UINT32_MAX        /* a label, program or expression that is not there */
#define WAIT_COMPUTED (UINT32_MAX - 1) /* a label that only the run knows */
#define WAIT_TWICE                                                                                 \
	(UINT32_MAX - 2) /* a label that stands more than once: which one is meant is              \
	                    not known */
#define WAIT_SKIPPED                                                                               \
	(UINT32_MAX - 3) /* a label in a block that a switch takes away: some controls do not find \
	                    it then, others do */

enum wait_op {
	WAIT_OP_CODE,    /* a: index in code */
	WAIT_OP_SET,     /* #a = b: expressions of the variable's number and of its value */
	WAIT_OP_GOTO,    /* to label a (expression) */
	WAIT_OP_IF,      /* to label a when condition b is true */
	WAIT_OP_UNLESS,  /* to target when condition b is false: the THEN part is passed over */
	WAIT_OP_WHILE,   /* to target, behind its END, when condition b is false; b is WAIT_NOWHERE
	                    for   a DO alone */
	WAIT_OP_LOOP,    /* END: to target, its WHILE */
	WAIT_OP_CALL,    /* a: index in call: M98, G65; G66 arms the modal call */
	WAIT_OP_CANCEL,  /* G67: no modal call any more */
	WAIT_OP_MOVE,    /* a block that moves: an armed modal call is made behind it; target is
	                    WAIT_COMPUTED where it is not known whether it moves */
	WAIT_OP_RETURN,  /* M99; a: expression of the caller's label, or WAIT_NOWHERE */
	WAIT_OP_END,     /* M02, M30 */
	WAIT_OP_UNKNOWN, /* from here on the flow is not known; a: index in why */
};

/* 28 bytes. Instructions of one block have the same offset and stand in the order of execution. */
struct wait_instr {
	uint8_t op;
	uint8_t skip;     /* skip level of its block, 0 none */
	uint16_t col;     /* from 1; 65535 stands for more */
	uint32_t line;    /* from 1 */
	uint32_t offset;  /* of its block, in the file */
	int32_t sequence; /* N, -1 without */
	uint32_t a, b;
	uint32_t target; /* of GOTO, IF and the main program's RETURN after resolving: an
	                    instruction, or WAIT_NOWHERE, WAIT_COMPUTED, WAIT_TWICE. The end of the
	                    unit is a valid target. */
};

enum wait_call_kind { WAIT_CALL_SUB, WAIT_CALL_MACRO, WAIT_CALL_MODAL };

struct wait_call {
	uint8_t kind;
	uint32_t program;   /* expression of its number; WAIT_NOWHERE with a name */
	uint32_t repeat;    /* expression, WAIT_NOWHERE: once */
	uint32_t arg, args; /* index of the first argument, and how many; of G65 and G66 */
	uint32_t unit;  /* after resolving: index, WAIT_NOWHERE (not in these files), WAIT_COMPUTED,
	                   WAIT_TWICE (two have its number) */
	uint32_t times; /* after resolving: repeats that P itself holds in front (P31000), else 0 */
	bool resident;  /* lives in the control and has no wait code: passed over */
	char *name;     /* of the called program, in upper case; NULL without; owned */
	const char *why; /* static: why it is not followed where it matters; NULL when it is */
};

/* One argument of a macro call: local variable number = expression. */
struct wait_arg {
	uint32_t local, expr;
};

/*
 * N numbers of a unit, run-length coded, in the order of the text: first, first + step, .. count of
 * them, all in front of instruction at.
 */
struct wait_labels {
	uint32_t first, step, count, at;
	uint8_t skip; /* skip level of their blocks */
};

/* One program of the file: from its number to the next. */
struct wait_unit {
	uint32_t number;
	bool numbered;
	char *name;             /* of O<NAME>, in upper case; NULL without; owned */
	uint32_t file;          /* 0: the program's own file; else a sister, from 1 */
	uint64_t line;          /* of its first block */
	uint32_t offset;        /* of its first block */
	uint32_t first, end;    /* its instructions */
	uint32_t label, labels; /* its first run in labels, and how many */
	uint32_t bare; /* in front of instructions below it, blocks that move may have left nothing:
	                  there was no G66 before */
	bool cut;      /* not all of its labels were kept */
	uint32_t height; /* calls that nest below it, as far as they are known */
	bool reached;    /* some path of the main program leads to it */
	bool leaps;      /* M99 P: it may come back to any label of its caller */
	bool relevant;   /* what it does can change the wait codes met */
};

/* A loop: its DO and its END, by instruction; outer: the loop around it, by index, WAIT_NOWHERE
 * without. */
struct wait_loop {
	uint32_t begin, end, outer;
};

/* A numbered unit, in the order of numbers, then of places. */
struct wait_entry {
	uint32_t number, unit;
};

struct wait_flow {
	const struct profile *profile;
	struct wait_entry *index; /* after resolving */
	size_t entries;
	struct wait_loop *loop; /* after resolving, in the order of the text */
	size_t loops;
	struct nc_pool pool;
	struct wait_instr *instr;
	uint8_t *idle; /* after resolving, one per instruction: 1 when it cannot change the wait
	                  codes met, and a proof passes over it */
	size_t instrs, instrs_cap;
	struct wait_call *call;
	size_t calls, calls_cap;
	struct wait_arg *arg;
	size_t args, args_cap;
	struct wait_unit *unit; /* unit 0 is the main program */
	size_t units, units_cap;
	struct wait_labels *labels;
	size_t labels_n, labels_n_cap;
	struct wait_code *code;
	size_t codes, codes_cap, own_codes; /* own: in the file itself, the first ones */
	const char **why;                   /* static texts, each once */
	size_t whys, whys_cap;
	const struct wait_flow *sister[WAIT_SISTERS_MAX];
	size_t sisters;
	const char *never; /* why nothing of it can be followed: static text; NULL when it can */
	struct wait_place contour; /* the first cycle over a contour (P, Q); line 0: none */
	uint32_t skips;
	uint32_t label_skips;     /* of blocks that constant jumps lead to, bit set by level */
	struct wait_build *build; /* what is known only while blocks come in; NULL after the end */
};

/* Instructions, runs of labels and programs that are kept at most; what lies beyond is not known.
 */
enum { WAIT_INSTR_MAX = 1 << 26, WAIT_LABELS_MAX = 1 << 22, WAIT_UNITS_MAX = 1 << 20 };

/* resolve.c: the unit with this number, WAIT_NOWHERE when none has it, WAIT_TWICE when two have.
 * *times: repeats that the number holds in front, as in P31000 (common practice where numbers have
 * four digits), else 0. */
uint32_t wait_flow_unit(const struct wait_flow *f, uint64_t number, uint32_t *times);

/* label.c: the instruction that label n of the unit stands in front of; WAIT_NOWHERE, WAIT_TWICE
 * (unless both stand in front of the same one). Scans the unit's runs. *skip: the skip level of its
 * block, 0 without; skip may be NULL. */
uint32_t wait_flow_label(const struct wait_flow *f, uint32_t unit, uint64_t n, uint8_t *skip);

/* label.c: find the loops. False without memory. */
bool wait_flow_find_loops(struct wait_flow *f);
/* label.c: True when a jump from one instruction to the other leads into a loop from outside: on
 * most controls its END is an alarm then. */
bool wait_flow_into_loop(const struct wait_flow *f, uint32_t from, uint32_t to);

/* The unit that an instruction belongs to. */
uint32_t wait_flow_unit_of(const struct wait_flow *f, uint32_t instr);

/* Place of an instruction, for results and findings. */
struct wait_place wait_flow_place(const struct wait_flow *f, uint32_t instr);

#endif
