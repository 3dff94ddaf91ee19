/* Programs of sisters' files, copied behind the program's own: what they name moves along. */
#include <stdlib.h>
#include <string.h>
#include "build.h"

/* Where a sister's things stand in the flow. */
struct base {
	uint32_t instr, pool, call, arg, label, code;
	const uint32_t *why;
	uint32_t file;
};

/* v grown by n elements; NULL without memory. */
static void *grown(void *v, size_t have, size_t more, size_t *cap, size_t size)
{
	void *w;

	if (have + more > UINT32_MAX / 2)
		return NULL;
	if (have + more <= *cap && v)
		return v;
	w = reallocarray(v, have + more + 1, size);
	if (w)
		*cap = have + more + 1;
	return w;
}

static uint32_t moved(uint32_t index, uint32_t base)
{
	return index >= WAIT_TWICE ? index : index + base;
}

static void move_instr(struct wait_instr *i, const struct base *b)
{
	switch ((enum wait_op)i->op) {
	case WAIT_OP_CODE:
		i->a += b->code;
		return;
	case WAIT_OP_CALL:
		i->a += b->call;
		return;
	case WAIT_OP_UNKNOWN:
		i->a = b->why[i->a];
		return;
	default:
		i->a = moved(i->a, b->pool);
		i->b = moved(i->b, b->pool);
		i->target = moved(i->target, b->instr);
	}
}

static void copy_units(struct wait_flow *f, const struct wait_flow *s, const struct base *b)
{
	for (size_t k = 0; k < s->units; k++) {
		struct wait_unit *u = &f->unit[f->units++];

		*u = s->unit[k];
		u->name = NULL;
		u->file = b->file;
		u->first += b->instr;
		u->end += b->instr;
		u->label += b->label;
		u->height = 0;
		u->reached = u->relevant = false;
	}
}

static void copy(struct wait_flow *f, const struct wait_flow *s, const struct base *b)
{
	for (size_t i = 0; i < s->instrs; i++) {
		f->instr[f->instrs] = s->instr[i];
		move_instr(&f->instr[f->instrs++], b);
	}
	for (size_t i = 0; i < s->calls; i++) {
		struct wait_call *c = &f->call[f->calls++];

		*c = s->call[i];
		c->program = moved(c->program, b->pool);
		c->repeat = moved(c->repeat, b->pool);
		c->arg += b->arg;
	}
	for (size_t i = 0; i < s->args; i++) {
		f->arg[f->args] = s->arg[i];
		f->arg[f->args++].expr += b->pool;
	}
	for (size_t i = 0; i < s->labels_n; i++) {
		f->labels[f->labels_n] = s->labels[i];
		f->labels[f->labels_n++].at += b->instr;
	}
	for (size_t i = 0; i < s->codes; i++) {
		f->code[f->codes] = s->code[i];
		f->code[f->codes++].at.file = b->file;
	}
	if (s->pool.n)
		memcpy(f->pool.code + f->pool.n, s->pool.code, s->pool.n);
	f->pool.n += s->pool.n;
	copy_units(f, s, b);
}

#define GROW(f, s, field, n)                                                                       \
	((f)->field =                                                                              \
	        grown_or_keep(&ok, (f)->field, (f)->n, (s)->n, &(f)->n##_cap, sizeof *(f)->field))

/* As grown; without memory v stays, and *ok says so. */
static void *grown_or_keep(bool *ok, void *v, size_t have, size_t more, size_t *cap, size_t size)
{
	void *w = grown(v, have, more, cap, size);

	*ok &= w != NULL;
	return w ? w : v;
}

static bool append(struct wait_flow *f, const struct wait_flow *s, uint32_t file)
{
	uint32_t *why = calloc(s->whys + 1, sizeof *why);
	struct base b = {(uint32_t)f->instrs, (uint32_t)f->pool.n, (uint32_t)f->calls,
	    (uint32_t)f->args, (uint32_t)f->labels_n, (uint32_t)f->codes, why, file};
	bool ok = why != NULL;

	for (size_t i = 0; ok && i < s->whys; i++) {
		why[i] = wait_build_why(f, s->why[i]);
		ok = why[i] != WAIT_NOWHERE;
	}
	if (ok) {
		GROW(f, s, instr, instrs);
		GROW(f, s, call, calls);
		GROW(f, s, arg, args);
		GROW(f, s, unit, units);
		GROW(f, s, labels, labels_n);
		GROW(f, s, code, codes);
		f->pool.code =
		    grown_or_keep(&ok, f->pool.code, f->pool.n, s->pool.n, &f->pool.cap, 1);
	}
	if (ok)
		copy(f, s, &b);
	free(why);
	return ok;
}

bool wait_sister_append(struct wait_flow *f)
{
	for (size_t i = 0; i < f->sisters; i++)
		if (!append(f, f->sister[i], (uint32_t)i + 1))
			return false;
	return true;
}
