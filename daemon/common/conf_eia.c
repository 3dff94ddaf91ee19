#include "conf_eia.h"

#include <stdbool.h>
#include <string.h>
#include <strings.h>
#include "eia.h"

static size_t blanks(const char *s)
{
	return strspn(s, " \t");
}

/* The entry whose name the n characters are; LINE_EIA_CODES when there is none. */
static unsigned find(const char *name, size_t n)
{
	unsigned i = 0;

	while (i < LINE_EIA_CODES &&
	       (strlen(eia_name(i)) != n || strncasecmp(eia_name(i), name, n) != 0))
		i++;
	return i;
}

static int hex(char c)
{
	const char *digits = "0123456789abcdef0123456789ABCDEF";
	const char *at = c ? strchr(digits, c) : NULL;

	return at ? (int)((at - digits) % 16) : -1;
}

static bool read_code(const char *s, size_t n, uint8_t *code)
{
	if (n == 4 && strncasecmp(s, "none", n) == 0) {
		*code = LINE_EIA_NONE;
		return true;
	}
	if (n != 2 || hex(s[0]) < 0 || hex(s[1]) < 0)
		return false;
	*code = (uint8_t)(hex(s[0]) * 16 + hex(s[1]));
	return *code != EIA_BLANK && *code != LINE_EIA_NONE;
}

/* One "NAME CODE"; *s is left at the comma or the end. */
static bool read_one(const char **s, uint8_t *set)
{
	const char *name = *s + blanks(*s), *code;
	size_t name_n = strcspn(name, " \t,"), code_n;
	unsigned i = find(name, name_n);

	code = name + name_n;
	code += blanks(code);
	code_n = strcspn(code, " \t,");
	*s = code + code_n;
	*s += blanks(*s);
	return i < LINE_EIA_CODES && (**s == ',' || **s == '\0') &&
	       read_code(code, code_n, &set[i]);
}

int conf_eia_set(uint8_t set[LINE_EIA_CODES], const char *path, const struct conf_entry *e,
    struct conf_report *report)
{
	uint8_t new[LINE_EIA_CODES] = {0};
	const char *at = e->value;
	enum eia_fault fault;
	unsigned which = 0;
	struct eia table;

	for (;;) {
		const char *begin = at + blanks(at);

		if (!read_one(&at, new)) {
			conf_report_error(report, path, e->line,
			    "eia = '%s': at '%.20s': a name and its code, such as ER 0B, are "
			    "allowed, with commas between; names are ER TAB UC LC BS & ( ) : * = # "
			    "[ ] @ $, a code has two hexadecimal digits or is none",
			    e->value, begin);
			return -1;
		}
		if (*at++ == '\0')
			break;
	}
	fault = eia_init(&table, new, &which);
	if (fault != EIA_OK) {
		conf_report_error(report, path, e->line, "eia = '%s': %s: %s", e->value,
		    eia_name(which),
		    fault == EIA_EVEN
		        ? "its code has an even number of holes, those of EIA have an "
		          "odd number; look into the control's table of codes"
		        : "another character has its code; look into the control's "
		          "table of codes, and set 'NAME none' for what it lacks");
		return -1;
	}
	memcpy(set, new, sizeof(new));
	return 0;
}
