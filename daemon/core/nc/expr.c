#include "expr.h"

#include <stdlib.h>
#include <string.h>
#include "expr_code.h"
#include "scan.h"

struct source {
	const char *s, *end;
	struct nc_pool *pool;
	bool failed; /* no memory */
	uint8_t flags;
	unsigned depth;
	bool atan[NC_EXPR_DEPTH + 1]; /* by depth: a second value may follow */
	uint8_t
	    kinds[NC_EXPR_DEPTH + 1]; /* of operators, by depth: AND 1, OR and XOR 2, others 4 */
};

void nc_pool_free(struct nc_pool *p)
{
	free(p->code);
	*p = (struct nc_pool){0};
}

static void put(struct source *r, const void *bytes, size_t n)
{
	struct nc_pool *p = r->pool;

	if (p->cap - p->n < n) {
		size_t cap = p->cap ? p->cap * 2 : 256;
		/* indexes have 32 bits, and some of their values mean something else */
		uint8_t *code = cap > (size_t)INT32_MAX + 1 ? NULL : realloc(p->code, cap);

		if (!code) {
			r->failed = true;
			return;
		}
		p->code = code;
		p->cap = cap;
	}
	memcpy(p->code + p->n, bytes, n);
	p->n += n;
}

static void token(struct source *r, unsigned t)
{
	uint8_t byte = (uint8_t)t;

	put(r, &byte, 1);
}

static void put_number(struct source *r, int64_t mantissa, uint8_t scale)
{
	if (scale == 0 && mantissa >= 0 && mantissa <= UINT8_MAX) {
		token(r, NC_T_SMALL);
		token(r, (unsigned)mantissa);
		return;
	}
	token(r, NC_T_NUMBER);
	put(r, &mantissa, sizeof(mantissa));
	put(r, &scale, 1);
}

/* Past blanks to the character to come, NUL at the end. */
static char next(struct source *r)
{
	while (r->s < r->end && (*r->s == ' ' || *r->s == '\t'))
		r->s++;
	return r->s < r->end ? *r->s : '\0';
}

/* Past a name when it stands here. It may stand close to what follows: EQABS[#1]. */
static bool name(struct source *r, const char *s)
{
	size_t n = strlen(s);

	if ((size_t)(r->end - r->s) < n)
		return false;
	for (size_t i = 0; i < n; i++)
		if (nc_upper(r->s[i]) != s[i])
			return false;
	r->s += n;
	return true;
}

static bool is_digit(char c)
{
	return (c >= '0' && c <= '9') || c == '.';
}

/* Blanks may stand between digits (NISTIR 6556, 3.3). whole: of a variable's number. */
static bool number(struct source *r, bool whole)
{
	int64_t mantissa = 0;
	uint8_t scale = 0;
	bool point = false, digits = false;
	const char *behind = r->s;
	char c;

	for (; is_digit(c = next(r)); behind = ++r->s) {
		if (c == '.' && (point || whole))
			return false;
		if (c == '.') {
			point = true;
			continue;
		}
		if (mantissa > (INT64_MAX - 9) / 10 || scale == 18)
			return false;
		mantissa = mantissa * 10 + (c - '0');
		scale = (uint8_t)(scale + point);
		digits = true;
	}
	r->s = behind;
	if (digits)
		put_number(r, mantissa, scale);
	return digits;
}

static bool open_bracket(struct source *r, bool atan)
{
	if (next(r) != '[' || r->depth == NC_EXPR_DEPTH)
		return false;
	r->s++;
	r->atan[++r->depth] = atan;
	r->kinds[r->depth] = 0;
	token(r, NC_T_OPEN);
	return true;
}

/* # and what names the variable: a number, brackets, or another #. */
static bool variable(struct source *r, bool *open)
{
	unsigned marks = 0;

	for (; next(r) == '#'; r->s++, marks++)
		token(r, NC_T_VARIABLE);
	r->flags |= NC_HAS_VARIABLE;
	*open = next(r) == '[';
	if (marks > NC_EXPR_MARKS)
		return false;
	return *open ? open_bracket(r, false) : number(r, true);
}

static bool function(struct source *r)
{
	static const char names[NC_FUNCTIONS][6] = {[NC_F_ABS] = "ABS",
	    [NC_F_ACOS] = "ACOS",
	    [NC_F_ASIN] = "ASIN",
	    [NC_F_ATAN] = "ATAN",
	    [NC_F_COS] = "COS",
	    [NC_F_EXP] = "EXP",
	    [NC_F_FIX] = "FIX",
	    [NC_F_FUP] = "FUP",
	    [NC_F_LN] = "LN",
	    [NC_F_ROUND] = "ROUND",
	    [NC_F_SIN] = "SIN",
	    [NC_F_SQRT] = "SQRT",
	    [NC_F_TAN] = "TAN",
	    [NC_F_BIN] = "BIN",
	    [NC_F_BCD] = "BCD",
	    [NC_F_NOT] = "NOT"};

	for (unsigned f = 0; f < NC_FUNCTIONS; f++) {
		if (!name(r, names[f]))
			continue;
		if (f == NC_F_FIX || f == NC_F_FUP)
			r->flags |= NC_HAS_FIX;
		if (f == NC_F_NOT)
			r->flags |= NC_HAS_LOGIC;
		token(r, NC_T_FUNCTION + f);
		return open_bracket(r, f == NC_F_ATAN);
	}
	return false;
}

/* Signs and an operand, as far as the bracket that it opens (*open). False when there is none. */
static bool operand(struct source *r, bool *open)
{
	bool negative = false;
	char c;

	for (; (c = next(r)) == '+' || c == '-'; r->s++)
		negative ^= c == '-';
	if (negative)
		token(r, NC_T_NEGATIVE);
	*open = false;
	if (c == '#')
		return variable(r, open);
	if (is_digit(c))
		return number(r, false);
	*open = true;
	return c == '[' ? open_bracket(r, false) : function(r);
}

static bool operator_here(struct source *r)
{
	/* ** before *, which it begins with */
	static const char names[NC_OPS][4] = {[NC_OP_POW] = "**",
	    [NC_OP_MUL] = "*",
	    [NC_OP_DIV] = "/",
	    [NC_OP_MOD] = "MOD",
	    [NC_OP_ADD] = "+",
	    [NC_OP_SUB] = "-",
	    [NC_OP_EQ] = "EQ",
	    [NC_OP_NE] = "NE",
	    [NC_OP_GT] = "GT",
	    [NC_OP_GE] = "GE",
	    [NC_OP_LT] = "LT",
	    [NC_OP_LE] = "LE",
	    [NC_OP_AND] = "AND",
	    [NC_OP_OR] = "OR",
	    [NC_OP_XOR] = "XOR"};
	unsigned kinds;

	next(r);
	for (unsigned op = 0; op < NC_OPS; op++) {
		if (!name(r, names[op]))
			continue;
		if (op >= NC_OP_AND)
			r->flags |= NC_HAS_LOGIC;
		kinds = r->kinds[r->depth] |= op < NC_OP_AND ? 4 : op == NC_OP_AND ? 1 : 2;
		if (kinds & (kinds - 1)) /* two of them */
			r->flags |= NC_HAS_MIXED;
		token(r, NC_T_OPERATOR + op);
		return true;
	}
	return false;
}

enum behind { BEHIND_OPERAND, BEHIND_END, BEHIND_BAD };

/* ] of the bracket at hand; ATAN[..] may go on with /[..]. */
static enum behind close_bracket(struct source *r)
{
	bool atan = r->atan[r->depth--];
	const char *at;

	r->s++;
	token(r, NC_T_CLOSE);
	at = r->s;
	if (atan && next(r) == '/') {
		r->s++;
		token(r, NC_T_OVER);
		return open_bracket(r, false) ? BEHIND_OPERAND : BEHIND_BAD;
	}
	r->s = at;
	return BEHIND_END;
}

/* What stands behind an operand: closing brackets, then an operator. sum: operators count outside
 * of brackets too. */
static enum behind behind(struct source *r, bool sum)
{
	for (;;) {
		const char *at = r->s;
		enum behind b;

		if (!r->depth && !sum)
			return BEHIND_END;
		if (r->depth && next(r) == ']') {
			b = close_bracket(r);
			if (b != BEHIND_END)
				return b;
			continue;
		}
		if (r->depth && next(r) == ',' && r->atan[r->depth]) {
			r->s++;
			r->atan[r->depth] = false;
			token(r, NC_T_COMMA);
			return BEHIND_OPERAND;
		}
		if (operator_here(r))
			return BEHIND_OPERAND;
		r->s = at;
		return r->depth ? BEHIND_BAD : BEHIND_END;
	}
}

static int64_t compile(struct nc_pool *p, const char *s, size_t n, size_t *used, bool sum)
{
	struct source r = {.s = s, .end = s + n, .pool = p};
	enum behind b = BEHIND_OPERAND;
	size_t at = p->n;
	bool open;

	token(&r, 0);
	while (b == BEHIND_OPERAND && !r.failed) {
		if (!operand(&r, &open))
			b = BEHIND_BAD;
		else if (!open)
			b = behind(&r, sum);
	}
	token(&r, NC_T_END);
	if (!r.failed && b == BEHIND_END) {
		p->code[at] = r.flags;
		*used = (size_t)(r.s - s);
		return (int64_t)at;
	}
	p->n = at;
	return r.failed ? NC_EXPR_NO_MEMORY : NC_EXPR_NONE;
}

int64_t nc_expr_value(struct nc_pool *p, const char *s, size_t n, size_t *used)
{
	return compile(p, s, n, used, false);
}

int64_t nc_expr_sum(struct nc_pool *p, const char *s, size_t n, size_t *used)
{
	return compile(p, s, n, used, true);
}

int64_t nc_expr_constant(struct nc_pool *p, int64_t mantissa, unsigned scale)
{
	struct source r = {.pool = p};
	size_t at = p->n;

	token(&r, 0);
	put_number(&r, mantissa, (uint8_t)scale);
	token(&r, NC_T_END);
	if (!r.failed)
		return (int64_t)at;
	p->n = at;
	return NC_EXPR_NO_MEMORY;
}

bool nc_expr_is_constant(const struct nc_pool *p, uint32_t expr)
{
	return !(p->code[expr] & NC_HAS_VARIABLE);
}

/* What the # in front of t reads. A number over 33 is no local variable. */
static uint64_t reads(const uint8_t *t)
{
	int64_t number = -1;

	if (*t == NC_T_SMALL) {
		number = t[1];
	} else if (*t == NC_T_NUMBER) {
		memcpy(&number, t + 1, sizeof(number));
		if (t[1 + sizeof(number)] || number <= 33)
			number = -1;
	}
	if (number < 0)
		return 1;
	return number >= 1 && number <= 33 ? (uint64_t)1 << number : 0;
}

uint64_t nc_expr_reads(const struct nc_pool *p, uint32_t expr)
{
	const uint8_t *t = p->code + expr + 1;
	uint64_t set = 0;

	for (;; t++) {
		switch (*t) {
		case NC_T_END:
			return set;
		case NC_T_VARIABLE:
			set |= reads(t + 1);
			break;
		case NC_T_SMALL:
			t++;
			break;
		case NC_T_NUMBER:
			t += sizeof(int64_t) + 1;
			break;
		default:
			break;
		}
	}
}
