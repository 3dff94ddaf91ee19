#include "out.h"

#include <errno.h>
#include <langinfo.h>
#include <locale.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>
#include "exit.h"

static struct {
	unsigned width;
	bool terminal, ascii, colour, nomem;
} style = {.width = 80, .ascii = true};

static unsigned find_width(bool terminal)
{
	const char *columns = getenv("COLUMNS");
	unsigned long width = columns ? strtoul(columns, NULL, 10) : 0;
	struct winsize w;

	if (width == 0 && terminal && ioctl(STDOUT_FILENO, TIOCGWINSZ, &w) == 0)
		width = w.ws_col;
	return width >= 20 && width <= 1000 ? (unsigned)width : 80;
}

void out_start(void)
{
	const char *term = getenv("TERM"), *no_colour = getenv("NO_COLOR");

	style.terminal = isatty(STDOUT_FILENO);
	signal(SIGPIPE, SIG_IGN);
	setlocale(LC_CTYPE, "");
	style.ascii = strcmp(nl_langinfo(CODESET), "UTF-8") != 0;
	style.width = find_width(style.terminal);
	style.colour =
	    style.terminal && !(no_colour && *no_colour) && term && strcmp(term, "dumb") != 0;
}

unsigned out_width(void)
{
	return style.width;
}

bool out_ascii(void)
{
	return style.ascii;
}

static void put(const char *s, size_t n)
{
	for (size_t i = 0; style.ascii && i < n; i++) {
		if ((unsigned char)s[i] < 0x80)
			continue;
		fwrite(s, 1, i, stdout);
		printf("<%02X>", (unsigned char)s[i]);
		s += i + 1;
		n -= i + 1;
		i = (size_t)-1;
	}
	fwrite(s, 1, n, stdout);
}

/* The weight that a message begins with, alone or behind its place; NULL when there is none. */
static const char *weight_in(const char *line, size_t n, size_t *length, const char **colour)
{
	static const struct {
		const char *word, *colour;
	} weights[] = {{"refuse:", "1;31"}, {"warn:", "33"}, {"note:", "36"}};

	for (size_t i = 0; i < 3; i++) {
		const char *at = memmem(line, n, weights[i].word, strlen(weights[i].word));

		if (!at || (at != line && at[-1] != ' ') || line[0] == ' ')
			continue;
		*length = strlen(weights[i].word) - 1;
		*colour = weights[i].colour;
		return at;
	}
	return NULL;
}

static void put_line(const char *s, size_t n)
{
	size_t length;
	const char *colour;
	const char *at = style.colour ? weight_in(s, n, &length, &colour) : NULL;

	if (!at) {
		put(s, n);
		return;
	}
	put(s, (size_t)(at - s));
	printf("\033[%sm", colour);
	put(at, length);
	fputs("\033[0m", stdout);
	put(at + length, n - (size_t)(at + length - s));
}

static void put_lines(const char *s, size_t n)
{
	while (n > 0) {
		const char *end = memchr(s, '\n', n);
		size_t length = end ? (size_t)(end - s) + 1 : n;

		put_line(s, length);
		s += length;
		n -= length;
	}
}

void out_string(const char *s)
{
	put_lines(s, strlen(s));
}

void out_text(struct text *t)
{
	style.nomem |= t->failed;
	if (t->s)
		put_lines(t->s, t->n);
	text_free(t);
}

void out_prose(const char *s, unsigned indent)
{
	unsigned column = 0, width = style.width < 100 ? style.width : 100;

	while (*s) {
		size_t n = strcspn(s, " ");

		if (column > 0 && column + 1 + n > width) {
			putchar('\n');
			column = 0;
		}
		column += (unsigned)n + (unsigned)printf("%*s", column ? 1 : (int)indent, "");
		put(s, n);
		s += n;
		s += strspn(s, " ");
	}
	putchar('\n');
}

void out_lines(struct text *t)
{
	char *line = t->s, *end;

	if (!style.terminal) {
		out_text(t);
		return;
	}
	for (; line && (end = strchr(line, '\n')); line = end + 1) {
		size_t indent = strspn(line, " ");

		*end = '\0';
		out_prose(line + indent, (unsigned)indent);
	}
	text_free(t);
}

/* On a terminal in ASCII only: the characters U+0080 to U+009F could drive it. */
void out_json(json_t *o)
{
	if (!o ||
	    (json_dumpf(o, stdout,
	         JSON_INDENT(2) | (style.ascii || style.terminal ? JSON_ENSURE_ASCII : 0)) < 0 &&
	        !ferror(stdout)))
		style.nomem = true;
	putchar('\n');
	json_decref(o);
}

void out_error(const char *format, ...)
{
	struct text what = {0}, visible = {0};
	va_list ap;

	va_start(ap, format);
	text_vprintf(&what, format, ap);
	va_end(ap);
	fflush(stdout);
	if (what.s)
		text_visible(&visible, what.s, what.n);
	fprintf(stderr, "yoke: %s\n", visible.s ? visible.s : "out of memory");
	text_free(&what);
	text_free(&visible);
}

int out_finish(int status)
{
	errno = 0;
	if (fflush(stdout) != 0 || ferror(stdout)) {
		if (errno == EPIPE || errno == 0)
			return status;
		out_error("the output could not be written: %s", strerror(errno));
		return EXIT_USE;
	}
	if (style.nomem) {
		out_error("out of memory: the output is not complete");
		return EXIT_USE;
	}
	return status;
}
