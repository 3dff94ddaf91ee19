#include "stored_pair.h"

#include <string.h>
#include "ask.h"
#include "exit.h"
#include "out.h"
#include "yoke/text.h"

/* "J4417-C.upper": findings and sheets name the program so. */
static struct program *program_of(
    const struct profile *profile, const json_t *pair, const json_t *part, const struct stored *text)
{
	struct text name = {0};
	struct program *p = NULL;

	text_printf(&name, "%s-%s.%s", ask_string(pair, "job"), ask_string(pair, "revision"),
	    ask_string(part, "channel"));
	if (!name.failed)
		p = program_new(profile, name.s);
	text_free(&name);
	if (p && (program_feed(p, text->bytes, text->n) < 0 || program_finish(p) < 0)) {
		program_free(p);
		return NULL;
	}
	if (p)
		program_lend(p, text->bytes, text->n);
	return p;
}

int stored_pair_get(const struct profile *profile, const json_t *pair, struct stored_pair *out)
{
	const json_t *part;
	size_t i;

	memset(out, 0, sizeof(*out));
	json_array_foreach(json_object_get(pair, "parts"), i, part)
	{
		int status;

		if (out->n == YOKE_CHANNELS_MAX || !*ask_string(part, "sha256"))
			continue;
		status = stored_get(ask_string(part, "sha256"), &out->text[out->n]);
		if (status != EXIT_DONE)
			return status;
		out->program[out->n] = program_of(profile, pair, part, &out->text[out->n]);
		if (!out->program[out->n])
			goto fail;
		out->n++;
	}
	out->report = out->n ? pair_check(profile, out->program, out->n) : NULL;
	if (!out->n || out->report)
		return EXIT_DONE;
fail:
	out_error("out of memory");
	return EXIT_USE;
}

void stored_pair_free(struct stored_pair *p)
{
	pair_report_free(p->report);
	for (size_t i = 0; i < YOKE_CHANNELS_MAX; i++) {
		program_free(p->program[i]);
		stored_free(&p->text[i]);
	}
	memset(p, 0, sizeof(*p));
}
