#include <string.h>
#include "profile_value.h"

char profile_value_upper(char c)
{
	return c >= 'a' && c <= 'z' ? (char)(c - 'a' + 'A') : c;
}

bool profile_value_same(const char *a, const char *b, size_t n)
{
	for (size_t i = 0; i < n; i++)
		if (profile_value_upper(a[i]) != profile_value_upper(b[i]))
			return false;
	return true;
}

static bool is_digit(char c)
{
	return c >= '0' && c <= '9';
}

static bool is_letter(char c)
{
	return profile_value_upper(c) >= 'A' && profile_value_upper(c) <= 'Z';
}

bool profile_value_choice(
    const char *s, const char *no, const char *yes, bool *out, struct text *why)
{
	if (strcmp(s, yes) == 0) {
		*out = true;
		return true;
	}
	if (strcmp(s, no) == 0) {
		*out = false;
		return true;
	}
	text_printf(why, "allowed are %s and %s", no, yes);
	return false;
}

bool profile_value_bool(const char *s, bool *out, struct text *why)
{
	return profile_value_choice(s, "no", "yes", out, why);
}

bool profile_value_word_of(
    const char *s, const char *const *words, uint32_t n, uint32_t *which, struct text *why)
{
	for (uint32_t i = 0; i < n; i++) {
		if (strcmp(s, words[i]) == 0) {
			*which = i;
			return true;
		}
	}
	text_puts(why, "allowed are ");
	for (uint32_t i = 0; i < n; i++)
		text_printf(why, "%s%s", i == 0 ? "" : i + 1 < n ? ", " : " and ", words[i]);
	return false;
}

/* Read digits up to limit; *s goes past them. False when there are none or the number is above
 * limit. */
static bool digits(const char **s, uint64_t limit, uint64_t *out)
{
	uint64_t n = 0;

	if (!is_digit(**s))
		return false;
	for (; is_digit(**s); (*s)++) {
		unsigned d = (unsigned)(**s - '0');

		if (d > limit || n > (limit - d) / 10)
			return false;
		n = n * 10 + d;
	}
	*out = n;
	return true;
}

bool profile_value_number(
    const char *s, uint64_t low, uint64_t high, uint64_t *out, struct text *why)
{
	uint64_t n;

	if (!digits(&s, high, &n) || *s || n < low) {
		text_printf(why, "allowed are whole numbers from %llu to %llu",
		    (unsigned long long)low, (unsigned long long)high);
		return false;
	}
	*out = n;
	return true;
}

bool profile_value_decimal(const char *s, double low, double high, double *out, struct text *why)
{
	double n = 0, unit = 1;
	bool any = false;

	/* Twenty digits hold every number that is allowed; more would add nothing but rounding. */
	if (strlen(s) <= 20) {
		for (; is_digit(*s); s++, any = true)
			n = n * 10 + (*s - '0');
		if (any && *s == '.' && is_digit(s[1]))
			for (s++; is_digit(*s); s++, unit *= 10)
				n = n * 10 + (*s - '0');
	}
	n /= unit;
	if (!any || *s || n < low || n > high) {
		text_printf(why, "allowed are numbers from %.15g to %.15g", low, high);
		return false;
	}
	*out = n;
	return true;
}

bool profile_value_size(const char *s, uint64_t low, uint64_t high, uint64_t *out, struct text *why)
{
	uint64_t n = 0, unit = 1;
	bool ok = digits(&s, high, &n);

	if (*s == 'K')
		unit = 1ull << 10;
	else if (*s == 'M')
		unit = 1ull << 20;
	else if (*s == 'G')
		unit = 1ull << 30;
	if (unit > 1)
		s++;
	if (!ok || *s || n > high / unit || n * unit < low) {
		text_printf(why, "allowed are %llu to %llu bytes; K, M or G may follow the number",
		    (unsigned long long)low, (unsigned long long)high);
		return false;
	}
	*out = n * unit;
	return true;
}

static bool separates(char c)
{
	return c == ',' || c == ' ' || c == '\t';
}

static void skip_separators(const char **s)
{
	while (separates(**s))
		(*s)++;
}

static size_t item_length(const char *s)
{
	size_t n = 0;

	while (s[n] && !separates(s[n]))
		n++;
	return n;
}

static int bad_item(const char *s, struct text *why, const char *allowed)
{
	text_putc(why, '\'');
	text_visible(why, s, item_length(s));
	text_printf(why, "': %s", allowed);
	return -1;
}

static bool in_name(char c)
{
	return is_letter(c) || is_digit(c) || (c && strchr("_-+.#", c));
}

int profile_value_name(const char **s, char name[YOKE_NAME_MAX + 1], struct text *why)
{
	static const char allowed[] = "allowed are up to 64 letters, digits and _ - + . #";
	size_t n;

	_Static_assert(YOKE_NAME_MAX == 64, "the text above names the number");
	skip_separators(s);
	n = item_length(*s);
	if (n == 0)
		return 0;
	if (n > YOKE_NAME_MAX)
		return bad_item(*s, why, allowed);
	for (size_t i = 0; i < n; i++)
		if (!in_name((*s)[i]))
			return bad_item(*s, why, allowed);
	memcpy(name, *s, n);
	name[n] = '\0';
	*s += n;
	return 1;
}

static bool code(const char **s, char letter, uint32_t high, bool letter_needed, uint32_t *out)
{
	uint64_t n;

	if (profile_value_upper(**s) == letter)
		(*s)++;
	else if (letter_needed)
		return false;
	if (!digits(s, high, &n))
		return false;
	*out = (uint32_t)n;
	return true;
}

int profile_value_range(
    const char **s, char letter, uint32_t high, struct profile_range *out, struct text *why)
{
	const char *item;
	bool ok;

	skip_separators(s);
	item = *s;
	if (!*item)
		return 0;
	ok = code(s, letter, high, true, &out->low);
	out->high = out->low;
	if (ok && **s == '-') {
		(*s)++;
		ok = code(s, letter, high, false, &out->high);
	}
	if (!ok || (**s && !separates(**s)))
		return bad_item(item, why,
		    letter == 'M'
		        ? "allowed are M codes and ranges, such as M200-M299, M310"
		        : "allowed are program numbers and ranges, such as O9000-O9999, O8010");
	if (out->low > out->high)
		return bad_item(item, why, "the range runs backwards");
	return 1;
}

int profile_value_word(const char **s, char *word, size_t size, struct text *why)
{
	static const char allowed[] = "allowed are letters and words, such as M06, G43.4 or T";
	const char *p, *item;
	size_t n = 0, point = 0;

	skip_separators(s);
	p = item = *s;
	if (!*item)
		return 0;
	if (!is_letter(*p))
		return bad_item(item, why, allowed);
	word[n++] = profile_value_upper(*p++);
	while (*p == '0' && is_digit(p[1]))
		p++;
	for (; is_digit(*p) || (*p == '.' && n > 1 && !point); p++) {
		if (*p == '.')
			point = n;
		if (n + 1 == size)
			return bad_item(item, why, allowed);
		word[n++] = *p;
	}
	if ((*p && !separates(*p)) || (point && n == point + 1))
		return bad_item(item, why, allowed);
	while (point && (word[n - 1] == '0' || word[n - 1] == '.')) {
		if (word[--n] == '.')
			break;
	}
	word[n] = '\0';
	*s = p;
	return 1;
}

bool profile_value_overlap(const struct profile_range *v, uint32_t n, struct profile_range r)
{
	for (uint32_t i = 0; i < n; i++)
		if (r.low <= v[i].high && v[i].low <= r.high)
			return true;
	return false;
}
