#include "difference.h"

#include <string.h>
#include "ask.h"
#include "change_json.h"
#include "exit.h"
#include "out.h"
#include "stored.h"

static json_t *compare(const struct profile *profile, const struct stored v[2], int *status)
{
	struct change_json_file f[2] = {{.file = "old"}, {.file = "new"}};
	struct change_list list;
	json_t *all, *o = NULL;

	*status = EXIT_USE;
	if (change_compare(profile, v[0].bytes, v[0].n, v[1].bytes, v[1].n, 1, &list) < 0) {
		out_error("out of memory");
		return NULL;
	}
	all = change_json_list(&list, &f[0], &f[1]);
	o = json_pack("{s:O, s:O, s:O?}", "sameness", json_object_get(all, "sameness"), "counts",
	    json_object_get(all, "counts"), "heaviest",
	    json_array_get(json_object_get(all, "changes"), 0));
	json_decref(all);
	change_list_free(&list);
	*status = o ? EXIT_DONE : EXIT_USE;
	return o;
}

json_t *difference(
    const struct profile *profile, const char *old_sha, const char *new_sha, int *status)
{
	struct stored v[2] = {0};
	json_t *o = NULL;

	if (strcmp(old_sha, new_sha) == 0) {
		*status = EXIT_DONE;
		return json_pack("{s:s, s:{}, s:n}", "sameness",
		    change_sameness_name(CHANGE_SAME_BYTES), "counts", "heaviest");
	}
	*status = stored_get(old_sha, &v[0]);
	if (*status == EXIT_DONE)
		*status = stored_get(new_sha, &v[1]);
	if (*status == EXIT_DONE)
		o = compare(profile, v, status);
	stored_free(&v[0]);
	stored_free(&v[1]);
	return o;
}

static void put_counts(struct text *t, const json_t *counts)
{
	json_int_t all = 0;
	const char *kind, *comma = "";
	const json_t *n;

	json_object_foreach((json_t *)counts, kind, n) all += json_integer_value(n);
	text_printf(t, "%lld change%s (", (long long)all, all == 1 ? "" : "s");
	json_object_foreach((json_t *)counts, kind, n)
	{
		text_printf(t, "%s%lld ", comma, (long long)json_integer_value(n));
		ask_put(t, kind);
		comma = ", ";
	}
	text_putc(t, ')');
}

void difference_put(struct text *t, const json_t *difference)
{
	const json_t *most = json_object_get(difference, "heaviest");
	json_int_t old_line = ask_number(most, "old_line"), line = ask_number(most, "new_line");

	if (!json_object_size(json_object_get(difference, "counts"))) {
		ask_put_string(t, difference, "sameness");
		return;
	}
	if (strcmp(ask_string(difference, "sameness"), change_sameness_name(CHANGE_DIFFERENT)) != 0) {
		ask_put_string(t, difference, "sameness");
		text_puts(t, ": ");
	}
	put_counts(t, json_object_get(difference, "counts"));
	if (!json_is_object(most))
		return;
	text_puts(t, ", the heaviest: ");
	ask_put_string(t, most, "what");
	if (line > 0)
		text_printf(t, ", line %lld", (long long)line);
	else if (old_line > 0)
		text_printf(t, ", gone from line %lld", (long long)old_line);
	text_puts(t, " [");
	ask_put_string(t, most, "weight");
	text_putc(t, ']');
}
