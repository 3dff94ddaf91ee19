#include "change_json.h"

#include "report_json.h"
#include "sha256.h"

static json_t *file(const struct change_json_file *f)
{
	char hex[YOKE_SHA_HEX + 1];

	sha256_hex(f->sum, hex);
	return json_pack("{s:o, s:I, s:s}", "file", report_json_string(f->file), "size",
	    (json_int_t)f->n, "sha256", hex);
}

static json_t *counts(const struct change_list *l)
{
	json_t *o = json_object();

	for (int k = 0; o && k < CHANGE_COUNT; k++)
		if (l->count[k] > 0)
			json_object_set_new(o, change_name((enum change_kind)k),
			    json_integer((json_int_t)l->count[k]));
	return o;
}

static json_t *changes(const struct change_list *l)
{
	json_t *list = json_array();

	for (size_t i = 0; list && i < l->n; i++) {
		const struct change *c = &l->v[i];
		json_t *o = json_pack("{s:s, s:s, s:s, s:I, s:I, s:s, s:s}", "kind",
		    change_name(c->kind), "weight", finding_weight_name(change_weight(c->kind)),
		    "what", c->what, "old_line", (json_int_t)c->old_line, "new_line",
		    (json_int_t)c->new_line, "old", c->old_text, "new", c->new_text);

		if (json_array_append_new(list, o) < 0) {
			json_decref(list);
			return NULL;
		}
	}
	return list;
}

json_t *change_json_list(const struct change_list *l, const struct change_json_file *old_file,
    const struct change_json_file *new_file)
{
	return json_pack("{s:s, s:o, s:o, s:o, s:I, s:I, s:o}", "sameness",
	    change_sameness_name(l->sameness), "old", file(old_file), "new", file(new_file),
	    "counts", counts(l), "renumbered", (json_int_t)l->renumbered, "shown", (json_int_t)l->n,
	    "changes", changes(l));
}
