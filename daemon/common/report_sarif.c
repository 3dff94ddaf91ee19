/* Clauses are those of SARIF 2.1.0. */
#include "report_sarif.h"

#include <string.h>
#include "sha256.h"

#define SCHEMA                                                                                     \
	"https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/"                      \
	"sarif-schema-2.1.0.json"

/* Add to a list, or give both up: NULL stands for no memory, as with jansson. */
static json_t *append(json_t *list, json_t *item)
{
	if (list && json_array_append_new(list, item) == 0)
		return list;
	if (!list)
		json_decref(item);
	json_decref(list);
	return NULL;
}

/* A string of which the text takes the place; the text is freed. */
static json_t *string(struct text *t)
{
	json_t *s = t->failed ? NULL : json_stringn(t->s ? t->s : "", t->n);

	text_free(t);
	return s;
}

/* {"text": ...}: braces mark places for arguments and are doubled (3.11.5). n bytes. */
static json_t *message(const char *s, size_t n)
{
	struct text seen = {0}, t = {0};

	text_visible(&seen, s, n);
	for (size_t i = 0; i < seen.n; i++) {
		text_putc(&t, seen.s[i]);
		if (seen.s[i] == '{' || seen.s[i] == '}')
			text_putc(&t, seen.s[i]);
	}
	t.failed |= seen.failed;
	text_free(&seen);
	return json_pack("{s:o}", "text", string(&t));
}

static json_t *message_of(const char *s)
{
	return message(s, strlen(s));
}

/* A file name as a URI reference (3.4.3; RFC 3986): all but unreserved bytes and / by percent. */
static json_t *uri(const char *file)
{
	static const char plain[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz"
	                            "0123456789-._~/";
	struct text t = {0};

	if (*file == '/')
		text_puts(&t, "file://");
	for (; *file; file++) {
		if (strchr(plain, *file))
			text_putc(&t, *file);
		else
			text_printf(&t, "%%%02X", (unsigned)(unsigned char)*file);
	}
	return string(&t);
}

static const char *level(enum weight w)
{
	switch (w) {
	case WEIGHT_REFUSE:
		return "error";
	case WEIGHT_WARN:
		return "warning";
	case WEIGHT_NOTE:
		return "note";
	case WEIGHT_OFF:
		break;
	}
	return "none";
}

/* wait-missing -> WaitMissing: a name beside the id (3.49.7). */
static json_t *title(const char *name)
{
	struct text t = {0};
	bool upper = true;

	for (; *name; name++) {
		if (*name != '-')
			text_putc(&t, upper && *name >= 'a' && *name <= 'z'
			                  ? (char)(*name - 'a' + 'A')
			                  : *name);
		upper = *name == '-';
	}
	return string(&t);
}

/* One finding that there is: a reportingDescriptor (3.49). */
static json_t *rule(enum finding_id id)
{
	const char *why = finding_why(id), *stop = strstr(why, ". ");

	return json_pack("{s:s, s:o, s:o, s:o, s:{s:s}}", "id", finding_name(id), "name",
	    title(finding_name(id)), "shortDescription",
	    message(why, stop ? (size_t)(stop + 1 - why) : strlen(why)), "fullDescription",
	    message_of(why), "defaultConfiguration", "level", level(finding_weight(id)));
}

static json_t *rules(void)
{
	json_t *list = json_array();

	for (int id = 0; id < FINDING_COUNT && list; id++)
		list = append(list, rule((enum finding_id)id));
	return list;
}

/* What the machine's profile weighs otherwise (3.20.5, 3.51). */
static json_t *overrides(const struct profile *profile)
{
	json_t *list = json_array();

	for (int id = 0; id < FINDING_COUNT && list; id++) {
		enum weight w = profile->weight[id];

		if (w != finding_weight((enum finding_id)id))
			list = append(list,
			    json_pack("{s:{s:s, s:i}, s:{s:b, s:s}}", "descriptor", "id",
			        finding_name((enum finding_id)id), "index", id, "configuration",
			        "enabled", w != WEIGHT_OFF, "level", level(w)));
	}
	return list;
}

/* physicalLocation (3.29); line 0 is the file as a whole, column 0 the line. */
static json_t *place(const char *file, uint64_t line, uint32_t col)
{
	json_t *p = json_pack("{s:{s:o}}", "artifactLocation", "uri", uri(file));
	json_t *region = NULL;

	if (!p || line == 0)
		return p;
	region = json_pack("{s:I}", "startLine", (json_int_t)line);
	if (region && col > 0 &&
	    json_object_set_new(region, "startColumn", json_integer(col)) < 0) {
		json_decref(region);
		region = NULL;
	}
	if (json_object_set_new(p, "region", region) == 0)
		return p;
	json_decref(p);
	return NULL;
}

static json_t *locations(const struct finding *f)
{
	if (!f->file || !f->file[0])
		return json_array();
	return append(
	    json_array(), json_pack("{s:o}", "physicalLocation", place(f->file, f->line, f->col)));
}

static json_t *related(const struct finding *f)
{
	if (!f->also)
		return json_array();
	return append(
	    json_array(), json_pack("{s:i, s:o, s:o}", "id", 0, "physicalLocation",
	                      place(f->also_file ? f->also_file : "", f->also_line, f->also_col),
	                      "message", message_of("the other place")));
}

/* What was found, and what to do about it: a viewer shows the message alone. */
static json_t *told(const struct finding *f)
{
	const char *remedy = f->remedy ? f->remedy : "";
	struct text t = {0};
	json_t *o;

	text_printf(&t, "%s.", f->text);
	if (*remedy >= 'a' && *remedy <= 'z')
		text_printf(&t, " %c%s.", *remedy - 'a' + 'A', remedy + 1);
	else if (*remedy)
		text_printf(&t, " %s.", remedy);
	o = t.failed ? NULL : message(t.s, t.n);
	text_free(&t);
	return o;
}

/* One finding: a result (3.27). */
static json_t *result(const struct profile *profile, const struct finding *f)
{
	bool channel = f->channel >= 0 && (uint32_t)f->channel < profile->channels;

	return json_pack("{s:s, s:i, s:s, s:o, s:o, s:o, s:{s:o, s:o}}", "ruleId",
	    finding_name(f->id), "ruleIndex", (int)f->id, "level", level(f->weight), "message",
	    told(f), "locations", locations(f), "relatedLocations", related(f), "properties",
	    "channel",
	    channel ? report_json_string(profile->channel[f->channel].name) : json_null(), "remedy",
	    report_json_string(f->remedy ? f->remedy : ""));
}

static json_t *results(const struct profile *profile, const struct findings *f)
{
	json_t *list = json_array();

	for (size_t i = 0; i < f->n && list; i++)
		list = append(list, result(profile, &f->v[i]));
	return list;
}

/* Each file once (3.14.15 asks for that), though it may hold several channels. */
static json_t *artifacts(const struct report_json_program *programs, size_t n)
{
	json_t *list = json_array();

	for (size_t i = 0; i < n && list; i++) {
		char hex[YOKE_SHA_HEX + 1];

		if (i > 0 && strcmp(programs[i].file, programs[i - 1].file) == 0)
			continue;
		sha256_hex(programs[i].sum, hex);
		list = append(list, json_pack("{s:{s:o}, s:{s:s}}", "location", "uri",
		                        uri(programs[i].file), "hashes", "sha-256", hex));
	}
	return list;
}

static json_t *properties(const struct pair_report *report)
{
	return json_pack("{s:s, s:b, s:o, s:o, s:I, s:s}", "verdict",
	    pair_verdict_name(pair_verdict(report)), "mayRelease", pair_may_release(report) ? 1 : 0,
	    "job", report_json_string(pair_job(report)), "revision",
	    report_json_string(pair_revision(report)), "meetings",
	    (json_int_t)pair_meetings(report), "caution", REPORT_JSON_CAUTION);
}

json_t *report_sarif_pair(const struct profile *profile, const struct pair_report *report,
    const struct report_json_program *programs, size_t n)
{
	const struct findings *f = pair_findings(report);
	json_t *driver, *invocations, *run;

	if (f->failed)
		return NULL;
	driver =
	    json_pack("{s:s, s:s, s:o}", "name", "Yoke", "version", YOKE_VERSION, "rules", rules());
	invocations = append(json_array(), json_pack("{s:b, s:o}", "executionSuccessful", 1,
	                                       "ruleConfigurationOverrides", overrides(profile)));
	run = json_pack("{s:{s:o}, s:s, s:s, s:o, s:o, s:o, s:o}", "tool", "driver", driver,
	    "columnKind", "utf16CodeUnits", "defaultEncoding", "ISO-8859-1", "invocations",
	    invocations, "artifacts", artifacts(programs, n), "results", results(profile, f),
	    "properties", properties(report));
	return json_pack("{s:s, s:s, s:[o]}", "$schema", SCHEMA, "version", "2.1.0", "runs", run);
}
