#include "program_state.h"

/* The program's end stands at the end of the file. */
static bool file_drips(const struct program *p, struct text *why)
{
	const struct file_state *s = &p->state;

	if (!s->end.line)
		text_puts(why, "no M02 or M30 ends it, so that nobody could tell whether all of it "
		               "was executed");
	else if (s->after_end || s->after_close)
		text_printf(why,
		    "line %llu: text stands behind the program's end (line %llu), and is never "
		    "read",
		    (unsigned long long)(s->after_end ? s->first_after_end : s->close_line),
		    (unsigned long long)s->end.line);
	else
		return true;
	return false;
}

bool program_drips(const struct program *p, bool waits, struct text *why)
{
	return wait_flow_drips(p->flow, waits, why) && file_drips(p, why);
}
