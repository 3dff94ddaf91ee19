/* A job's programs as word-address text. */
#include "job.h"

struct writer {
	const struct job *j;
	const struct tree *t;
	int c, unit, label, loops;
	int leave[JOB_LOOPS * 2]; /* labels behind the loops at hand */
	FILE *out;
};

static void list(struct writer *w, int16_t n);

static void term(struct writer *w, const struct term *t)
{
	if (t->unknown)
		fprintf(w->out, "#500");
	else if (!t->var)
		fprintf(w->out, "%d", t->add);
	else if (!t->plus && !t->add)
		fprintf(w->out, "#%d", t->var);
	else if (!t->plus)
		fprintf(w->out, "[#%d+%d]", t->var, t->add);
	else
		fprintf(w->out, "[#%d+#%d+%d]", t->var, t->plus, t->add);
}

static void condition(struct writer *w, const struct cond *c)
{
	static const char *const word[] = {"EQ", "NE", "GT", "LT"};

	fprintf(w->out, "[");
	term(w, &c->left);
	fprintf(w->out, " %s %d]", word[c->relation], c->right);
}

static void slash(struct writer *w, const struct node *n)
{
	if (n->slash)
		fprintf(w->out, "/%d ", n->slash);
}

static void wait_code(struct writer *w, const struct node *n)
{
	unsigned all = (1u << w->j->channels) - 1;

	if (!(n->partners >> w->c & 1))
		return;
	slash(w, n);
	fprintf(w->out, "M%d", 200 + n->code);
	/* without a list all are meant: written both ways */
	if (w->j->list == LIST_MASK && (n->partners != all || n->form))
		fprintf(w->out, " P%d", n->partners);
	if (w->j->list == LIST_DIGITS && (n->partners != all || n->form)) {
		fprintf(w->out, " P");
		for (int c = 0; c < w->j->channels; c++)
			if (n->partners >> c & 1)
				fprintf(w->out, "%d", c + 1);
	}
	fprintf(w->out, "\n");
}

static void call(struct writer *w, const struct node *n)
{
	static const char letter[] = "ABC";

	slash(w, n);
	fprintf(w->out, "%s P%d", n->kind == NODE_MACRO ? "G65" : "M98", 8000 + n->unit);
	if (n->times > 1)
		fprintf(w->out, " L%d", n->times);
	for (int i = 0; i < n->args; i++) {
		fprintf(w->out, " %c", letter[i]);
		term(w, &n->arg[i]);
		/* a number without a point may count in increments */
		if (!n->arg[i].unknown && !n->arg[i].var)
			fprintf(w->out, ".");
	}
	fprintf(w->out, "\n");
}

static void body(struct writer *w, const struct node *n, int leave)
{
	w->leave[w->loops++] = leave;
	list(w, n->body);
	w->loops--;
}

static void loop(struct writer *w, const struct node *n)
{
	int top = w->label++, out = w->label++, counter = 15 + 4 * w->unit + w->loops;

	if (n->form == LOOP_WRITTEN_OUT) {
		for (int i = 0; i < n->times; i++)
			body(w, n, out);
	} else if (n->form == LOOP_WHILE) {
		fprintf(w->out, "#%d=0\nWHILE[#%d LT %d]DO%d\n", counter, counter, n->times,
		    w->loops + 1);
		body(w, n, out);
		fprintf(w->out, "#%d=#%d+1\nEND%d\n", counter, counter, w->loops + 1);
	} else {
		fprintf(w->out, "#%d=%d\nN%d\n", counter, n->times, top);
		body(w, n, out);
		fprintf(w->out, "#%d=#%d-1\nIF[#%d GT 0]GOTO%d\n", counter, counter, counter, top);
	}
	fprintf(w->out, "N%d\n", out);
}

static void other_loops(struct writer *w, const struct node *n)
{
	int top = w->label++, out = w->label++;

	switch (n->kind) {
	case NODE_WHILE:
		fprintf(w->out, "WHILE");
		condition(w, &n->cond);
		fprintf(w->out, "DO%d\n", w->loops + 1);
		break;
	case NODE_ENDLESS:
		fprintf(w->out, n->form ? "DO%d\n" : "WHILE[1 EQ 1]DO%d\n", w->loops + 1);
		break;
	default:
		fprintf(w->out, "N%d G1X5.F.2\n", top);
	}
	body(w, n, out);
	if (n->kind == NODE_UNTIL) {
		fprintf(w->out, "IF");
		condition(w, &n->cond);
		fprintf(w->out, "GOTO%d\n", top);
	} else {
		fprintf(w->out, "END%d\n", w->loops + 1);
	}
	fprintf(w->out, "N%d\n", out);
}

static void choose(struct writer *w, const struct node *n)
{
	int behind = w->label++, arm = 1000 + 10 * behind;

	fprintf(w->out, "GOTO[#%d+%d]\nN%d\n", n->var, arm, arm);
	list(w, n->body);
	fprintf(w->out, "GOTO%d\nN%d\n", behind, arm + 1);
	list(w, n->other);
	fprintf(w->out, "N%d\n", behind);
}

static void parts(struct writer *w, const struct node *n)
{
	int other = w->label++, behind = w->label++;

	slash(w, n);
	if (n->kind != NODE_JUMP) {
		fprintf(w->out, "IF");
		condition(w, &n->cond);
	}
	fprintf(w->out, "GOTO%d\n", other);
	list(w, n->body);
	if (n->kind == NODE_EITHER)
		fprintf(w->out, "GOTO%d\n", behind);
	fprintf(w->out, "N%d%s\n", other, n->form ? "" : " G1Z-2.");
	if (n->kind == NODE_EITHER) {
		list(w, n->other);
		fprintf(w->out, "N%d\n", behind);
	}
}

static void simple(struct writer *w, const struct node *n)
{
	slash(w, n);
	switch (n->kind) {
	case NODE_SIGNAL:
		fprintf(w->out, "M%d\n", (n->from == w->c ? 300 : 400) + n->code);
		break;
	case NODE_SET:
		fprintf(w->out, "#%d=", n->var);
		term(w, &n->value);
		fprintf(w->out, "\n");
		break;
	case NODE_THEN:
		fprintf(w->out, "IF");
		condition(w, &n->cond);
		fprintf(w->out, "THEN#%d=", n->var);
		term(w, &n->value);
		fprintf(w->out, "\n");
		break;
	case NODE_LEAVE:
		fprintf(w->out, "IF");
		condition(w, &n->cond);
		fprintf(w->out, "GOTO%d\n", w->leave[w->loops - 1]);
		break;
	case NODE_STOP:
		fprintf(w->out, "M30\n");
		break;
	default:
		fprintf(w->out, "G1X%d.5F.2\n", n->code + 10);
	}
}

static void list(struct writer *w, int16_t first)
{
	for (int16_t i = first; i; i = w->t->node[i].next) {
		const struct node *n = &w->t->node[i];

		switch (n->kind) {
		case NODE_WAIT:
			wait_code(w, n);
			break;
		case NODE_CALL:
		case NODE_MACRO:
			call(w, n);
			break;
		case NODE_LOOP:
			loop(w, n);
			break;
		case NODE_WHILE:
		case NODE_UNTIL:
		case NODE_ENDLESS:
			other_loops(w, n);
			break;
		case NODE_SKIP:
		case NODE_EITHER:
		case NODE_JUMP:
			parts(w, n);
			break;
		case NODE_CHOOSE:
			choose(w, n);
			break;
		default:
			simple(w, n);
		}
	}
}

/* The programs that something calls: another one that ends with M30 would be a second main program.
 */
static unsigned called(const struct tree *t, int16_t n, unsigned units)
{
	for (; n; n = t->node[n].next) {
		const struct node *v = &t->node[n];

		if ((v->kind == NODE_CALL || v->kind == NODE_MACRO) && !(units >> v->unit & 1))
			units = called(t, t->unit[v->unit], units | 1u << v->unit);
		units = called(t, v->body, units);
		if (v->other != v->body)
			units = called(t, v->other, units);
	}
	return units;
}

void job_write_text(const struct job *j, int c, FILE *out)
{
	struct writer w = {.j = j, .t = &j->tree[c], .c = c, .label = 10, .out = out};

	unsigned units = called(w.t, w.t->unit[0], 1);

	fprintf(out, "%%\n");
	for (w.unit = 0; w.unit < w.t->units; w.unit++) {
		if (!(units >> w.unit & 1))
			continue;
		fprintf(out, "O%d\n", w.unit ? 8000 + w.unit : 1);
		list(&w, w.t->unit[w.unit]);
		fprintf(out, "%s\n", w.unit || w.t->again ? "M99" : "M30");
	}
	fprintf(out, "%%\n");
}
