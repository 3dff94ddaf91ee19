/*
 * A job as processes in Promela (Holzmann, The SPIN Model Checker, 2003). Calls are written out at
 * their place; what the program does not know is a choice without a guard.
 */
#include "job.h"

#include <stdlib.h>

enum { FRAMES = 5, NEST = 16 };

struct model {
	const struct job *j;
	const struct tree *t;
	int c, frame, nest, label;
	int leave[NEST * 2], leaves;
	unsigned used[FRAMES]; /* variables, by frame */
	int nests;             /* most loops and calls that nest */
	bool again;
	FILE *out;
};

static void list(struct model *m, int16_t n);

static void variable(struct model *m, int v)
{
	m->used[m->frame] |= 1u << v;
	fprintf(m->out, "f%dv%d", m->frame, v);
}

/* The value, UNK when a part of it is not known. Braces are the caller's. */
static void value(struct model *m, const struct term *t)
{
	if (t->unknown) {
		fprintf(m->out, "UNK");
	} else if (!t->var) {
		fprintf(m->out, "%d", t->add);
	} else {
		fprintf(m->out, "(");
		variable(m, t->var);
		fprintf(m->out, "==UNK");
		if (t->plus) {
			fprintf(m->out, "||");
			variable(m, t->plus);
			fprintf(m->out, "==UNK");
		}
		fprintf(m->out, " -> UNK : ");
		variable(m, t->var);
		if (t->plus) {
			fprintf(m->out, "+");
			variable(m, t->plus);
		}
		fprintf(m->out, "+%d)", t->add);
	}
}

/* A choice: what is done when the condition holds, and when not. */
static void choice(struct model *m, const struct cond *c, const char *yes, const char *no)
{
	static const char *const word[] = {"==", "!=", ">", "<"};
	const char *chosen = m->again ? "round=0; " : "";

	if (c->left.unknown) {
		fprintf(m->out, "if :: true -> %s%s :: true -> %s%s fi", chosen, yes, chosen, no);
		return;
	}
	fprintf(m->out, "if ");
	if (c->left.var) {
		fprintf(m->out, ":: (");
		value(m, &c->left);
		fprintf(m->out, ")==UNK -> %s%s :: (", chosen, yes);
		value(m, &c->left);
		fprintf(m->out, ")==UNK -> %s%s ", chosen, no);
	}
	fprintf(m->out, ":: (");
	value(m, &c->left);
	fprintf(m->out, ")!=UNK && (");
	value(m, &c->left);
	fprintf(m->out, ")%s%d -> %s :: else -> %s fi", word[c->relation], c->right, yes, no);
}

static void to(struct model *m, const struct cond *c, int label)
{
	char jump[24];

	snprintf(jump, sizeof jump, "goto L%d", label);
	choice(m, c, jump, "skip");
}

/* What a switch may skip stands between these two. */
static void open_slash(struct model *m, const struct node *n)
{
	if (n->slash)
		fprintf(m->out, "if :: on>>%d&1 -> skip :: else -> ", n->slash);
}

static void close_slash(struct model *m, const struct node *n)
{
	fprintf(m->out, n->slash ? " fi;\n" : ";\n");
}

static int nest(struct model *m)
{
	if (m->nest >= m->nests)
		m->nests = m->nest + 1;
	return m->nest++;
}

static void body(struct model *m, int16_t first, int leave)
{
	m->leave[m->leaves++] = leave;
	list(m, first);
	m->leaves--;
}

static void loop(struct model *m, const struct node *n)
{
	int top = m->label++, out = m->label++, k = nest(m);

	fprintf(m->out, "k%d=%d;\nL%d: skip;\n", k, n->times, top);
	body(m, n->body, out);
	fprintf(m->out, "k%d--; if :: k%d>0 -> goto L%d :: else -> skip fi;\nL%d: k%d=0;\n", k, k,
	    top, out, k);
	m->nest--;
}

static void call(struct model *m, const struct node *n)
{
	int top = m->label++, behind = m->label++, k = nest(m), frame = m->frame;

	if (n->slash)
		fprintf(
		    m->out, "if :: on>>%d&1 -> goto L%d :: else -> skip fi;\n", n->slash, behind);
	if (n->kind == NODE_MACRO) {
		for (int v = 1; v <= JOB_VARS; v++) {
			m->frame = frame + 1;
			variable(m, v);
			m->frame = frame;
			fprintf(m->out, "=");
			if (v <= n->args)
				value(m, &n->arg[v - 1]);
			else
				fprintf(m->out, "UNK");
			fprintf(m->out, ";\n");
		}
		m->frame = frame + 1;
	}
	fprintf(m->out, "k%d=%d;\nL%d: skip;\n", k, n->times, top);
	list(m, m->t->unit[n->unit]);
	fprintf(m->out, "k%d--; if :: k%d>0 -> goto L%d :: else -> skip fi;\n", k, k, top);
	for (int v = 1; n->kind == NODE_MACRO && v <= JOB_VARS; v++)
		fprintf(m->out, "f%dv%d=UNK;\n", m->frame, v);
	m->frame = frame;
	fprintf(m->out, "L%d: skip;\n", behind);
	m->nest--;
}

/* Whether channel c ever meets, ends, or leaves the loop around the list (when it stands in none
 * further in): if not, nobody hears of it again, whatever it chooses. */
static bool speaks(const struct model *m, int16_t first, bool inner)
{
	for (int16_t i = first; i; i = m->t->node[i].next) {
		const struct node *n = &m->t->node[i];
		bool loop = n->kind == NODE_LOOP || n->kind == NODE_WHILE ||
		            n->kind == NODE_UNTIL || n->kind == NODE_ENDLESS;

		if ((n->kind == NODE_WAIT && n->partners >> m->c & 1) || n->kind == NODE_SIGNAL ||
		    n->kind == NODE_STOP || (n->kind == NODE_LEAVE && !inner))
			return true;
		if ((n->kind == NODE_CALL || n->kind == NODE_MACRO) &&
		    speaks(m, m->t->unit[n->unit], true))
			return true;
		if (speaks(m, n->body, inner || loop) || speaks(m, n->other, inner || loop))
			return true;
	}
	return false;
}

static void round_ends(struct model *m, const char *where)
{
	fprintf(m->out, "round++; if :: round>20 -> goto lost :: else -> goto %s fi;\n", where);
}

static void other_loops(struct model *m, const struct node *n)
{
	int top = m->label++, out = m->label++;
	char where[24];

	snprintf(where, sizeof where, "L%d", top);
	fprintf(m->out, "%s: skip;\n", where);
	if (n->kind == NODE_ENDLESS && !speaks(m, n->body, false))
		fprintf(m->out, "goto lost;\n");
	if (n->kind == NODE_WHILE) {
		char jump[24];

		snprintf(jump, sizeof jump, "goto L%d", out);
		choice(m, &n->cond, "skip", jump);
		fprintf(m->out, ";\n");
	}
	body(m, n->body, out);
	if (n->kind == NODE_UNTIL) {
		to(m, &n->cond, top);
		fprintf(m->out, ";\n");
	} else if (n->kind == NODE_WHILE) {
		fprintf(m->out, "goto %s;\n", where);
	} else {
		round_ends(m, where);
	}
	fprintf(m->out, "L%d: skip;\n", out);
}

static void parts(struct model *m, const struct node *n)
{
	int other = m->label++, behind = m->label++;

	if (n->kind == NODE_CHOOSE) {
		fprintf(m->out, "if :: ");
		variable(m, n->var);
		fprintf(m->out, "==0 -> skip :: ");
		variable(m, n->var);
		/* unknown, or a label that is not there */
		fprintf(m->out, "==1 -> goto L%d :: else -> goto unknown fi;\n", other);
	} else {
		open_slash(m, n);
		if (n->kind == NODE_JUMP)
			fprintf(m->out, "goto L%d", other);
		else
			to(m, &n->cond, other);
		close_slash(m, n);
	}
	list(m, n->body);
	if (n->kind == NODE_EITHER || n->kind == NODE_CHOOSE)
		fprintf(m->out, "goto L%d;\n", behind);
	fprintf(m->out, "L%d: skip;\n", other);
	if (n->kind == NODE_EITHER || n->kind == NODE_CHOOSE)
		list(m, n->other);
	fprintf(m->out, "L%d: skip;\n", behind);
}

static void wait_code(struct model *m, const struct node *n)
{
	if (!(n->partners >> m->c & 1))
		return;
	open_slash(m, n);
	fprintf(m->out, "%sd_step { key[%d]=%d; with[%d]=%d }; key[%d]==0",
	    m->again ? "round=0; " : "", m->c, n->code, m->c, n->partners, m->c);
	close_slash(m, n);
}

static void send_or_receive(struct model *m, const struct node *n)
{
	int at = (n->code - 1) * JOB_CHANNELS;

	open_slash(m, n);
	if (n->from != m->c) {
		fprintf(m->out,
		    "key[%d]=RECEIVING+%d; d_step { sent[%d]>0 -> sent[%d]--; key[%d]=0; BEAT(%d) "
		    "}",
		    m->c, n->code - 1, at + m->c, at + m->c, m->c, m->c);
	} else {
		fprintf(m->out, "d_step { skip");
		for (int c = 0; c < m->j->channels; c++)
			if (c != m->c)
				fprintf(m->out, "; sent[%d]++", at + c);
		fprintf(m->out, "; BEAT(%d) }", m->c);
	}
	close_slash(m, n);
}

static void set(struct model *m, const struct node *n)
{
	open_slash(m, n);
	if (n->kind == NODE_THEN) {
		char text[160];
		struct model part = *m;

		part.out = fmemopen(text, sizeof text, "w");
		if (!part.out)
			abort();
		variable(&part, n->var);
		fprintf(part.out, "=");
		value(&part, &n->value);
		fclose(part.out);
		m->used[m->frame] = part.used[m->frame];
		choice(m, &n->cond, text, "skip");
	} else {
		variable(m, n->var);
		fprintf(m->out, "=");
		value(m, &n->value);
	}
	close_slash(m, n);
}

static void list(struct model *m, int16_t first)
{
	for (int16_t i = first; i; i = m->t->node[i].next) {
		const struct node *n = &m->t->node[i];

		switch (n->kind) {
		case NODE_WAIT:
			wait_code(m, n);
			break;
		case NODE_SIGNAL:
			send_or_receive(m, n);
			break;
		case NODE_SET:
		case NODE_THEN:
			set(m, n);
			break;
		case NODE_CALL:
		case NODE_MACRO:
			call(m, n);
			break;
		case NODE_LOOP:
			loop(m, n);
			break;
		case NODE_WHILE:
		case NODE_UNTIL:
		case NODE_ENDLESS:
			other_loops(m, n);
			break;
		case NODE_SKIP:
		case NODE_EITHER:
		case NODE_JUMP:
		case NODE_CHOOSE:
			parts(m, n);
			break;
		case NODE_LEAVE:
			open_slash(m, n);
			to(m, &n->cond, m->leave[m->leaves - 1]);
			close_slash(m, n);
			break;
		case NODE_STOP:
			open_slash(m, n);
			fprintf(m->out, "goto fin");
			close_slash(m, n);
			break;
		default:
			break;
		}
	}
}

static bool endless(const struct tree *t)
{
	for (int i = 1; i < t->nodes; i++)
		if (t->node[i].kind == NODE_ENDLESS)
			return true;
	return t->again;
}

static void channel(const struct job *j, int k, int c, FILE *out)
{
	char *text = NULL;
	size_t n = 0;
	struct model m = {.j = j, .t = &j->tree[c], .c = c, .label = 1};

	m.again = endless(m.t);
	m.out = open_memstream(&text, &n);
	if (!m.out)
		abort();
	if (m.t->again && !speaks(&m, m.t->unit[0], true))
		fprintf(m.out, "goto lost;\n");
	list(&m, m.t->unit[0]);
	if (m.t->again) {
		fprintf(m.out, "BEAT(%d);\n", c);
		round_ends(&m, "start");
	}
	fclose(m.out);
	fprintf(out, "proctype j%dc%d(byte on) {\n", k, c);
	if (m.again)
		fprintf(out, "byte round;\n");
	for (int i = 0; i < m.nests; i++)
		fprintf(out, "byte k%d;\n", i);
	for (int f = 0; f < FRAMES; f++)
		for (int v = 1; v <= JOB_VARS; v++)
			if (m.used[f] >> v & 1)
				fprintf(out, "short f%dv%d=UNK;\n", f, v);
	fprintf(out, "start: skip;\n%sgoto fin;\n", text);
	fprintf(out, "lost: stop[%d]=LOST; goto end_stop;\n", c);
	/* where a program that never meets anybody goes does not matter */
	fprintf(out, "unknown: stop[%d]=%s; goto end_stop;\n", c,
	    speaks(&m, m.t->unit[0], true) ? "NOT_KNOWN" : "ENDED");
	fprintf(out, "fin: stop[%d]=ENDED;\nend_stop: false\n}\n", c);
	free(text);
}

void job_write_model(const struct job *j, int k, FILE *out)
{
	for (int c = 0; c < j->channels; c++)
		channel(j, k, c, out);
}
