/*
 * What is written as a name: programs by their name, O<NAME> and M98 <NAME>, and a wait that is a
 * call, such as MEET(7,1) (common practice of controls that have either).
 */
#include <string.h>
#include "class.h"
#include "scan.h"

#define CLASS(c) nc_class[(unsigned char)(c)]

static bool at_end(const char *p)
{
	return CLASS(*p) == NC_C_END || CLASS(*p) == NC_C_FILL;
}

/* Past a byte inside of a name or of a call's parentheses; what is no text is noted. */
static const char *past(struct nc_scan *z, const char *p)
{
	const unsigned char c = (unsigned char)*p;

	if (c < 0x20 || c >= 0x7F || CLASS(c) == NC_C_LOWER)
		return nc_scan_stray(z, p, NC_FAULT_CHARACTER);
	return p + 1;
}

const char *nc_name_word(struct nc_scan *z, const char *at, const char *open)
{
	const char *from = open + 1, *p = from;

	while (*p != '>' && *p != '<' && !at_end(p))
		p = past(z, p);
	if (*p != '>' || p == from || z->name_col) {
		nc_scan_fault(z, NC_FAULT_WORD, open);
		return *p == '>' ? p + 1 : p;
	}
	z->name_col = (uint32_t)(from - z->s) + 1;
	if (nc_scan_word(z, at, 'O', NC_NAME, 0, 0, p - from))
		return p + 1;
	z->name_col = 0;
	while (CLASS(*p) != NC_C_END)
		p++;
	return p;
}

/* M98, G65 and G66 may have the name of a program behind them. */
static bool calls(const struct nc_word *w)
{
	if (w->flags & (NC_COMPUTED | NC_HUGE | NC_NAME) || w->scale)
		return false;
	return (w->letter == 'M' && w->mantissa == 98) ||
	       (w->letter == 'G' && (w->mantissa == 65 || w->mantissa == 66));
}

const char *nc_name_called(struct nc_scan *z, const char *p)
{
	if (!z->words || !calls(&z->word[z->words - 1]))
		return NULL;
	return nc_name_word(z, p, p);
}

/* True when the letters at p are exactly the call's word. */
static bool is_call(const char *word, const char *p)
{
	size_t n = strlen(word);

	for (size_t i = 0; i < n; i++)
		if (nc_upper(p[i]) != word[i])
			return false;
	return nc_upper(p[n]) < 'A' || nc_upper(p[n]) > 'Z';
}

const char *nc_name_call(struct nc_scan *z, const char *p)
{
	const char *word = p, *open;

	if (!z->wait_call || !*z->wait_call || !is_call(z->wait_call, p))
		return NULL;
	for (p += strlen(z->wait_call); *p == ' ' || *p == '\t'; p++)
		;
	if (*p != '(')
		return NULL;
	/* the first letter was noted by who came here */
	for (p = word + 1; *p != '('; p = past(z, p))
		;
	open = p++;
	while (*p != ')' && *p != '(' && !at_end(p))
		p = past(z, p);
	if (*p != ')' || z->flags & NC_CALL) {
		nc_scan_fault(z, NC_FAULT_WORD, word);
		return *p == ')' ? p + 1 : p;
	}
	z->flags |= NC_CALL;
	z->call = open + 1;
	z->call_length = (size_t)(p - z->call);
	z->call_col = (uint32_t)(word - z->s) + 1;
	return p + 1;
}
