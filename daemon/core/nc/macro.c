/*
 * Variables, expressions and control flow: passed over with their brackets balanced, never
 * computed. What matters here is where they end and that they were there.
 */
#include "class.h"
#include "scan.h"

#include <string.h>

#define CLASS(c) nc_class[(unsigned char)(c)]

enum { NAME_MAX_LENGTH = 5 };

/* Letters at p, in upper case, into name; their number, 0 when there are more than a name may have.
 */
static size_t name_at(const char *p, char name[NAME_MAX_LENGTH + 1])
{
	size_t n = 0;

	for (; nc_upper(p[n]) >= 'A' && nc_upper(p[n]) <= 'Z'; n++) {
		if (n == NAME_MAX_LENGTH)
			return 0;
		name[n] = nc_upper(p[n]);
	}
	name[n] = '\0';
	return n;
}

/* Past n letters of a name; lower-case ones are noted. */
static const char *take_name(struct nc_scan *z, const char *p, size_t n)
{
	for (; n; n--, p++)
		if (CLASS(*p) == NC_C_LOWER)
			nc_scan_fault(z, NC_FAULT_LOWER, p);
	return p;
}

static bool listed(const char *const *list, const char *name)
{
	for (; *list; list++)
		if (strcmp(*list, name) == 0)
			return true;
	return false;
}

/* Functions of one bracket: NISTIR 6556, 3.3.2.4, and the names that lathe controls add (common
 * practice). */
static bool is_function(const char *name)
{
	static const char *const list[] = {"ABS", "ACOS", "ASIN", "ATAN", "COS", "EXP", "FIX",
	    "FUP", "LN", "ROUND", "SIN", "SQRT", "TAN", "BIN", "BCD", "NOT", NULL};

	return listed(list, name);
}

/* Operators written as names: NISTIR 6556, 3.3.2.3, and comparisons (common practice). */
static bool is_operator(const char *name)
{
	static const char *const list[] = {
	    "MOD", "AND", "OR", "XOR", "EQ", "NE", "GT", "LT", "GE", "LE", NULL};

	return listed(list, name);
}

/* From [ to its mate; without one, a fault and the end of the line. *clean: no fault was noted. */
static const char *to_mate(struct nc_scan *z, const char *p, bool *clean)
{
	const char *open = p;
	size_t depth = 0;

	for (;;) {
		switch (CLASS(*p)) {
		case NC_C_END:
			nc_scan_fault(z, NC_FAULT_WORD, open);
			*clean = false;
			return p;
		case NC_C_LOWER:
		case NC_C_TAB:
			p = nc_scan_stray(z, p, NC_FAULT_CHARACTER);
			continue;
		case NC_C_HIGH:
		case NC_C_FILL:
		case NC_C_BAD:
			p = nc_scan_stray(z, p, NC_FAULT_CHARACTER);
			*clean = false;
			continue;
		case NC_C_OPEN:
		case NC_C_NOTE:
		case NC_C_PERCENT:
			nc_scan_fault(z, NC_FAULT_WORD, p);
			*clean = false;
			break;
		default:
			if (*p == ')') {
				nc_scan_fault(z, NC_FAULT_WORD, p);
				*clean = false;
			}
			break;
		}
		depth += *p == '[';
		depth -= *p == ']';
		p++;
		if (!depth)
			return p;
	}
}

static const char *past_blanks(const char *p)
{
	while (*p == ' ' || *p == '\t')
		p++;
	return p;
}

/* Past an unsigned number or a variable's number at p, or NULL. */
static const char *past_number(const char *p)
{
	unsigned points = 0, digits = 0;

	for (; CLASS(*p) == NC_C_DIGIT || CLASS(*p) == NC_C_POINT; p = past_blanks(p + 1)) {
		points += *p == '.';
		digits += *p != '.';
	}
	return digits && points < 2 ? p : NULL;
}

/* Past an operator at p, or NULL. Its name may stand close to what follows: EQABS[#1]. */
static const char *past_operator(const char *p)
{
	if (p[0] == '*' && p[1] == '*')
		return p + 2;
	if (*p == '+' || *p == '-' || *p == '*' || *p == '/' || *p == ',')
		return p + 1;
	for (size_t n = 3; n >= 2; n--) {
		char name[4] = {
		    nc_upper(p[0]), nc_upper(p[1]), n > 2 ? nc_upper(p[2]) : '\0', '\0'};

		if (is_operator(name))
			return p + n;
		if (p[1] == '\n' || p[1] == '\r')
			break;
	}
	return NULL;
}

/*
 * True when what stands from the [ at p up to end, behind its mate, is an expression: operands with
 * an operator between any two (NISTIR 6556, 3.3.2.2 to 3.3.2.4; comparisons, and a comma between
 * two arguments: common practice). Without a stack: brackets are known to be balanced.
 */
static bool expression(const char *p, const char *end)
{
	char name[NAME_MAX_LENGTH + 1];
	bool operand = true; /* one is wanted */

	for (p = past_blanks(p); p < end; p = past_blanks(p)) {
		if (!operand && *p == ']') {
			p++;
		} else if (!operand) {
			p = past_operator(p);
			operand = true;
		} else if (*p == '[' || *p == '+' || *p == '-') {
			p++;
		} else if (*p == '#') {
			while (*p == '#')
				p = past_blanks(p + 1);
			operand = *p == '[';
			if (!operand)
				p = past_number(p);
		} else if (CLASS(*p) == NC_C_DIGIT || CLASS(*p) == NC_C_POINT) {
			p = past_number(p);
			operand = false;
		} else {
			size_t n = name_at(p, name);

			p = n && is_function(name) ? past_blanks(p + n) : NULL;
			if (p && *p != '[')
				p = NULL;
		}
		if (!p)
			return false;
	}
	return !operand;
}

/* From [ to its mate; a fault when there is none, or no expression in between. */
static const char *brackets(struct nc_scan *z, const char *p)
{
	bool clean = true;
	const char *end = to_mate(z, p, &clean);

	if (clean && !expression(p, end))
		nc_scan_fault(z, NC_FAULT_WORD, p);
	return end;
}

static const char *function(struct nc_scan *z, const char *p)
{
	char name[NAME_MAX_LENGTH + 1];
	size_t n = name_at(p, name);
	const char *q = p + n;

	while (*q == ' ' || *q == '\t')
		q++;
	if (!n || !is_function(name) || *q != '[')
		return NULL;
	p = brackets(z, nc_scan_gap(z, take_name(z, p, n)));
	if (strcmp(name, "ATAN") != 0)
		return p;
	for (q = p; *q == ' ' || *q == '\t'; q++)
		;
	if (*q != '/')
		return p;
	p = nc_scan_gap(z, nc_scan_gap(z, p) + 1);
	if (*p == '[')
		return brackets(z, p);
	nc_scan_fault(z, NC_FAULT_WORD, p);
	return p;
}

const char *nc_macro_value(struct nc_scan *z, const char *p)
{
	const char *hash = p;

	if (*p == '[')
		return brackets(z, p);
	if (*p != '#')
		return function(z, p);
	while (*p == '#')
		p = nc_scan_gap(z, p + 1);
	if (*p == '[')
		return brackets(z, p);
	if (CLASS(*p) != NC_C_DIGIT) {
		nc_scan_fault(z, NC_FAULT_WORD, hash);
		return p;
	}
	while (CLASS(*p) == NC_C_DIGIT)
		p++;
	return p;
}

/* A number, a variable, brackets or a function, with signs; NULL when there is none. */
static const char *operand(struct nc_scan *z, const char *p)
{
	unsigned points = 0, digits = 0;
	const char *from;

	p = nc_scan_gap(z, p);
	while (*p == '+' || *p == '-')
		p = nc_scan_gap(z, p + 1);
	if (CLASS(*p) != NC_C_DIGIT && CLASS(*p) != NC_C_POINT)
		return nc_macro_value(z, p);
	for (from = p; CLASS(*p) == NC_C_DIGIT || CLASS(*p) == NC_C_POINT;
	     p = nc_scan_gap(z, p + 1)) {
		points += *p == '.';
		digits += *p != '.';
	}
	if (points > 1 || !digits)
		nc_scan_fault(z, NC_FAULT_NUMBER, from);
	return p;
}

/* An operator at p, or NULL. */
static const char *operator_at(struct nc_scan *z, const char *p)
{
	char name[NAME_MAX_LENGTH + 1];
	size_t n;

	if (p[0] == '*' && p[1] == '*')
		return p + 2;
	if (*p == '+' || *p == '-' || *p == '*' || *p == '/')
		return p + 1;
	n = name_at(p, name);
	return n && is_operator(name) ? take_name(z, p, n) : NULL;
}

const char *nc_macro_setting(struct nc_scan *z, const char *p)
{
	const char *hash = p, *next;

	z->flags |= NC_MACRO;
	p = nc_scan_gap(z, nc_macro_value(z, p));
	if (*p != '=') {
		nc_scan_fault(z, NC_FAULT_WORD, hash);
		return p;
	}
	next = p + 1;
	while (next) {
		p = operand(z, next);
		if (!p) {
			nc_scan_fault(z, NC_FAULT_WORD, next - 1);
			return next;
		}
		p = nc_scan_gap(z, p);
		next = operator_at(z, p);
	}
	return p;
}

/* True when one of two keywords stands at p. */
static bool follows(const char *p, const char *a, const char *b)
{
	char name[NAME_MAX_LENGTH + 1];
	size_t n = name_at(p, name);

	/* IF [..] THENGOTO 5 is told where it is read */
	return n && (strcmp(name, a) == 0 || strcmp(name, b) == 0);
}

/* The [condition] of IF and WHILE at p, and what must come behind it. */
static const char *condition(struct nc_scan *z, const char *p, const char *a, const char *b)
{
	const char *at = p;

	if (*p == '[')
		p = nc_scan_gap(z, brackets(z, p));
	if (*at != '[' || !follows(p, a, b))
		nc_scan_fault(z, NC_FAULT_WORD, at);
	return p;
}

/* The number or value behind GOTO, DO or END at p: the last of its block. */
static const char *target(struct nc_scan *z, const char *p)
{
	const char *at = p;
	unsigned k;

	while (CLASS(*p) == NC_C_DIGIT)
		p++;
	if (p == at)
		p = nc_macro_value(z, at);
	if (!p) {
		nc_scan_fault(z, NC_FAULT_WORD, at);
		return at;
	}
	p = nc_scan_gap(z, p);
	k = CLASS(*p);
	if (k != NC_C_END && k != NC_C_OPEN && k != NC_C_NOTE && k != NC_C_FILL)
		nc_scan_fault(z, NC_FAULT_WORD, p);
	return p;
}

const char *nc_macro_keyword(struct nc_scan *z, const char *p)
{
	static const char *const list[] = {
	    "IF", "GOTO", "WHILE", "DO", "END", "THEN", "ELSE", "ENDIF", NULL};
	char name[NAME_MAX_LENGTH + 1];
	size_t n = name_at(p, name);

	if (n < 2 || !listed(list, name))
		return NULL;
	z->flags |= NC_MACRO | NC_JUMP;
	/* the first letter was noted by who came here */
	p = nc_scan_gap(z, take_name(z, p + 1, n - 1));
	if (strcmp(name, "THEN") == 0 || strcmp(name, "ELSE") == 0 || strcmp(name, "ENDIF") == 0)
		return p;
	if (strcmp(name, "IF") == 0)
		return condition(z, p, "GOTO", "THEN");
	if (strcmp(name, "WHILE") == 0)
		return condition(z, p, "DO", "DO");
	return target(z, p);
}
