#include "sameness.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "exam.h"

enum { KEEP = 50 }; /* changes named in an event; counts are complete */

static void add_changes(json_t *all, const char *channel, const struct change_list *l)
{
	for (size_t i = 0; i < l->n; i++) {
		json_t *c = json_pack("{s:s, s:s, s:s, s:I, s:I}", "channel", channel, "kind",
		    change_name(l->v[i].kind), "what", l->v[i].what, "old_line",
		    (json_int_t)l->v[i].old_line, "new_line", (json_int_t)l->v[i].new_line);

		if (c)
			json_array_append_new(all, c);
	}
}

static void one(struct service *s, const struct profile *profile, const char *what,
    const struct event_part *p, json_t *all, struct text *said, struct sameness_result *out)
{
	struct text old = {0}, new = {0};
	struct change_list list = {0};

	out->compared++;
	if (!memcmp(&p->before, &p->after, sizeof(p->before))) {
		text_printf(said, "%s%s is %s", said->n ? "; " : "", p->channel, what);
		return;
	}
	if (exam_bytes(s->vault, &p->before, &old) || exam_bytes(s->vault, &p->after, &new) ||
	    change_compare(profile, old.s, old.n, new.s, new.n, KEEP, &list)) {
		out->different = true;
		text_printf(said,
		    "%s%s is not byte for byte %s, and could not be compared by meaning",
		    said->n ? "; " : "", p->channel, what);
		goto out;
	}
	if (list.sameness > CHANGE_SAME_TEXT) {
		uint64_t n = 0;

		for (int k = 0; k < CHANGE_COUNT; k++)
			n += list.count[k];
		out->different = true;
		text_printf(said, "%s%s differs from %s: %llu change%s", said->n ? "; " : "",
		    p->channel, what, (unsigned long long)n, n == 1 ? "" : "s");
		if (list.n)
			text_printf(said, ", %s", list.v[0].what);
	} else {
		text_printf(said, "%s%s is %s", said->n ? "; " : "", p->channel, what);
	}
	add_changes(all, p->channel, &list);
out:
	change_list_free(&list);
	text_free(&old);
	text_free(&new);
}

int sameness_of_parts(struct service *s, const struct profile *profile, const char *what,
    const struct event_part *part, const char *const *otherwise, uint32_t n,
    struct sameness_result *out)
{
	struct text said = {0};
	json_t *all = json_array(), *o = json_object();
	int result = -1;

	memset(out, 0, sizeof(*out));
	for (uint32_t i = 0; i < n; i++) {
		bool gone = part[i].has_before && !part[i].has_after;

		if (gone || (otherwise && otherwise[i])) {
			text_printf(&said, "%s%s%s", said.n ? "; " : "",
			    gone ? part[i].channel : otherwise[i], gone ? " is no longer there" : "");
			out->compared++;
			out->different = true;
		} else if (part[i].has_before && part[i].has_after) {
			one(s, profile, what, &part[i], all, &said, out);
		}
	}
	if (!out->compared)
		text_puts(&said, "nothing was carried there to compare it with");
	snprintf(out->text, sizeof(out->text), "%s", said.s ? said.s : "");
	json_object_set(o, "changes", all);
	out->detail = json_dumps(o, JSON_COMPACT);
	result = out->detail ? 0 : -1;
	text_free(&said);
	json_decref(all);
	json_decref(o);
	return result;
}
