#include "class.h"
#include "scan.h"

#define CLASS(c) nc_class[(unsigned char)(c)]

struct number {
	uint64_t mantissa;
	size_t digits, scale;
	bool point, huge, bad, gap;
};

/*
 * Digits and at most one point; blanks and tabs may stand anywhere between (NISTIR 6556, 3.3
 * and 3.3.2.1). Leading zeros do no harm, however many.
 */
static const char *number(struct nc_scan *z, const char *p, struct number *n)
{
	for (;; p++) {
		const char *q = nc_scan_gap(z, p);
		bool more = CLASS(*q) == NC_C_DIGIT || CLASS(*q) == NC_C_POINT;

		n->gap |= q > p && more && (n->digits || n->point);
		p = q;
		if (CLASS(*p) == NC_C_POINT) {
			n->bad |= n->point;
			n->point = true;
		} else if (CLASS(*p) == NC_C_DIGIT) {
			n->digits++;
			n->scale += n->point;
			if (n->mantissa > (INT64_MAX - 9) / 10)
				n->huge = true;
			else
				n->mantissa = n->mantissa * 10 + (uint64_t)(*p - '0');
		} else {
			break;
		}
	}
	n->huge |= n->scale > 18;
	n->bad |= n->digits == 0;
	return p;
}

static bool letter_at(const char *p)
{
	return CLASS(*p) == NC_C_LOWER || (CLASS(*p) == NC_C_LETTER && *p != ':');
}

/* A letter with letters after it that are no keyword and no function: one fault for the whole. */
static const char *babble(struct nc_scan *z, const char *p)
{
	nc_scan_fault(z, NC_FAULT_WORD, p);
	for (p++; letter_at(p); p++)
		if (CLASS(*p) == NC_C_LOWER)
			nc_scan_fault(z, NC_FAULT_LOWER, p);
	return p;
}

static const char *put(struct nc_scan *z, const char *at, char letter, unsigned flags,
    const struct number *n, bool negative, const char *after)
{
	int64_t m = negative ? -(int64_t)n->mantissa : (int64_t)n->mantissa;

	if (flags & (NC_COMPUTED | NC_HUGE))
		m = 0;
	if (!nc_scan_word(z, at, letter, flags, n->digits, flags & NC_HUGE ? 0 : n->scale, m))
		while (CLASS(*after) != NC_C_END)
			after++;
	return after;
}

const char *nc_value_word(struct nc_scan *z, const char *p, char letter, unsigned flags)
{
	struct number n = {0};
	const char *q, *after;
	bool negative = false;

	after = flags & NC_COMMA ? NULL : nc_name_call(z, p);
	if (after)
		return after;
	if (letter_at(p + 1)) {
		after = nc_macro_keyword(z, p);
		if (after)
			return after;
	}
	q = nc_scan_gap(z, p + 1);
	if (letter == 'O' && *q == '<' && !(flags & NC_COMMA))
		return nc_name_word(z, p, q);
	if (*q == '-' || *q == '+') {
		negative = *q == '-';
		flags |= NC_SIGN;
		q = nc_scan_gap(z, q + 1);
	}
	after = nc_macro_value(z, q);
	if (after) {
		z->flags |= NC_MACRO;
		return put(z, p, letter, flags | NC_COMPUTED, &n, false, after);
	}
	if (letter_at(p + 1))
		return babble(z, p);
	q = number(z, q, &n);
	if (n.bad) {
		nc_scan_fault(z, NC_FAULT_NUMBER, p);
		while (*q == '+' || *q == '-' || CLASS(*q) == NC_C_DIGIT || CLASS(*q) == NC_C_POINT)
			q++;
		return q;
	}
	flags |= (n.point ? NC_POINT : 0) | (n.huge ? NC_HUGE : 0) | (n.gap ? NC_GAP : 0);
	return put(z, p, letter, flags, &n, negative, q);
}
