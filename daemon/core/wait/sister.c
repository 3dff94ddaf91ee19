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

/* How much of a sister is its own, and not its sisters'. */
struct own {
	size_t instrs, units;
};

static struct own own_of(const struct wait_flow *s)
{
	struct own own = {0, s->units};

	while (own.units && s->unit[own.units - 1].file)
		own.units--;
	if (own.units)
		own.instrs = s->unit[own.units - 1].end;
	return own;
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

/* False without memory. */
static bool copy_units(
    struct wait_flow *f, const struct wait_flow *s, size_t n, const struct base *b)
{
	for (size_t k = 0; k < n; k++) {
		struct wait_unit *u = &f->unit[f->units];

		*u = s->unit[k];
		u->name = NULL;
		u->file = b->file;
		u->first += b->instr;
		u->end += b->instr;
		u->label += b->label;
		u->bare += u->bare ? b->instr : 0;
		u->height = 0;
		u->reached = u->relevant = false;
		f->units++;
		if (!s->unit[k].name)
			continue;
		u->name = strdup(s->unit[k].name);
		if (!u->name)
			return false;
	}
	return true;
}

/* False without memory. */
static bool copy_calls(struct wait_flow *f, const struct wait_flow *s, const struct base *b)
{
	for (size_t i = 0; i < s->calls; i++) {
		struct wait_call *c = &f->call[f->calls];

		*c = s->call[i];
		c->program = moved(c->program, b->pool);
		c->repeat = moved(c->repeat, b->pool);
		c->arg += b->arg;
		c->name = NULL;
		f->calls++;
		if (!s->call[i].name)
			continue;
		c->name = strdup(s->call[i].name);
		if (!c->name)
			return false;
	}
	return true;
}

static bool copy(
    struct wait_flow *f, const struct wait_flow *s, const struct own *own, const struct base *b)
{
	for (size_t i = 0; i < own->instrs; i++) {
		f->instr[f->instrs] = s->instr[i];
		move_instr(&f->instr[f->instrs++], b);
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
	return copy_calls(f, s, b) && copy_units(f, s, own->units, b);
}

/* v, moved where it must be to hold more; v as it is and *ok false without memory. */
static void *grown(bool *ok, void *v, size_t have, size_t more, size_t *cap, size_t size)
{
	void *w;

	if (have + more <= *cap && v)
		return v;
	w = have + more > UINT32_MAX / 2 ? NULL : reallocarray(v, have + more + 1, size);
	*ok &= w != NULL;
	if (w)
		*cap = have + more + 1;
	return w ? w : v;
}

#define GROW(f, s, field, n)                                                                       \
	((f)->field = grown(&ok, (f)->field, (f)->n, (s)->n, &(f)->n##_cap, sizeof *(f)->field))

static bool append(struct wait_flow *f, const struct wait_flow *s, uint32_t file)
{
	struct own own = own_of(s);
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
		f->pool.code = grown(&ok, f->pool.code, f->pool.n, s->pool.n, &f->pool.cap, 1);
	}
	ok = ok && copy(f, s, &own, &b);
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
