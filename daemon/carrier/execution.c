/*
 * The document:  Streams / DeviceStream (name, uuid) / ComponentStream (component, name, componentId)
 * / Events / Execution, Program. Element names are compared without their namespace's prefix: each
 * version of the standard has a namespace of its own, and Execution is the same in all.
 */
#include "execution.h"

#include <expat.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

enum { TEXT_MAX = 160 };

struct document {
	const char *device, *path;
	bool streams, error;
	bool in_device, in_path; /* the ones that are asked for */
	unsigned devices;        /* in all */
	unsigned matching, paths;
	bool in_text;
	char text[TEXT_MAX];
	size_t length;
	char said[TEXT_MAX]; /* an agent's error */
	bool has_execution, idle;
	char execution[TEXT_MAX], program[TEXT_MAX];
};

static const char *plain(const char *name)
{
	const char *colon = strrchr(name, ':');

	return colon ? colon + 1 : name;
}

static const char *attribute(const char **all, const char *name)
{
	for (; *all; all += 2)
		if (!strcmp(all[0], name))
			return all[1];
	return "";
}

/* Named by this, or by that. */
static bool is_called(const char *wanted, const char *a, const char *b)
{
	return (*a && !strcmp(wanted, a)) || (*b && !strcmp(wanted, b));
}

static void begin(void *ctx, const char *name, const char **all)
{
	struct document *d = ctx;

	name = plain(name);
	if (!strcmp(name, "MTConnectStreams"))
		d->streams = true;
	if (!strcmp(name, "DeviceStream")) {
		d->in_device = !*d->device || is_called(d->device, attribute(all, "name"),
		                                  attribute(all, "uuid"));
		d->devices++;
		d->matching += d->in_device;
	}
	if (!strcmp(name, "ComponentStream")) {
		d->in_path = d->in_device && !strcmp(attribute(all, "component"), "Path") &&
		             is_called(d->path, attribute(all, "name"),
		                 attribute(all, "componentId"));
		d->paths += d->in_path;
	}
	d->error |= !strcmp(name, "MTConnectError");
	d->in_text = !strcmp(name, "Execution") || !strcmp(name, "Program") || !strcmp(name, "Error");
	d->length = 0;
}

static void characters(void *ctx, const char *s, int n)
{
	struct document *d = ctx;

	for (int i = 0; i < n && d->in_text; i++)
		if (d->length < TEXT_MAX - 1)
			d->text[d->length++] = s[i];
}

/* The text without blanks around it, printable. */
static void take_text(struct document *d, char to[TEXT_MAX])
{
	size_t from = 0, n = d->length;

	while (from < n && (unsigned char)d->text[from] <= ' ')
		from++;
	while (n > from && (unsigned char)d->text[n - 1] <= ' ')
		n--;
	for (size_t i = from; i < n; i++)
		to[i - from] = (unsigned char)d->text[i] < ' ' || d->text[i] == 0x7f
		                   ? '?'
		                   : d->text[i];
	to[n - from] = '\0';
}

/* A "current" answer has each data item once; where a path tells its Execution more than once, all
 * must be idle, and the first that is not is what is told. */
static void take_execution(struct document *d)
{
	char value[TEXT_MAX];
	bool idle;

	take_text(d, value);
	idle = !strcmp(value, "READY") || !strcmp(value, "PROGRAM_COMPLETED");
	if (d->has_execution && !d->idle)
		return;
	memcpy(d->execution, value, sizeof value);
	d->idle = idle;
	d->has_execution = true;
}

static void end(void *ctx, const char *name)
{
	struct document *d = ctx;

	name = plain(name);
	if (!strcmp(name, "Error"))
		take_text(d, d->said);
	if (d->in_path && !strcmp(name, "Execution"))
		take_execution(d);
	if (d->in_path && !strcmp(name, "Program"))
		take_text(d, d->program);
	if (!strcmp(name, "ComponentStream"))
		d->in_path = false;
	if (!strcmp(name, "DeviceStream"))
		d->in_device = false;
	d->in_text = false;
}

/* Why the document does not answer, NULL when it does. */
static const char *gap(const struct document *d)
{
	if (!d->streams)
		return "it is no MTConnectStreams document";
	if (!*d->device && d->devices > 1)
		return "the agent has several devices, and none is named: set device";
	if (!d->matching)
		return "it has no device of this name";
	if (d->matching > 1)
		return "it has the device twice";
	if (!d->paths)
		return "the device has no Path component of this name";
	if (d->paths > 1)
		return "the device has the path twice";
	if (!d->has_execution || !*d->execution)
		return "the path does not tell its Execution";
	if (!strcmp(d->execution, "UNAVAILABLE"))
		return "the path's Execution is UNAVAILABLE: the agent does not hear the machine";
	return NULL;
}

bool execution_read(const char *xml, size_t n, const char *device, const char *path,
    struct execution *out, char *why, size_t size)
{
	struct document d = {.device = device, .path = path};
	XML_Parser p = n <= INT32_MAX ? XML_ParserCreate(NULL) : NULL;
	const char *no;

	*out = (struct execution){0};
	if (!p) {
		snprintf(why, size, "no memory to read what the agent said");
		return false;
	}
	XML_SetUserData(p, &d);
	XML_SetElementHandler(p, begin, end);
	XML_SetCharacterDataHandler(p, characters);
	if (XML_Parse(p, xml, (int)n, 1) != XML_STATUS_OK) {
		snprintf(why, size, "line %lu of what the agent said: %s",
		    (unsigned long)XML_GetCurrentLineNumber(p),
		    XML_ErrorString(XML_GetErrorCode(p)));
		XML_ParserFree(p);
		return false;
	}
	XML_ParserFree(p);
	if (d.error) {
		snprintf(why, size, "the agent says: %s", *d.said ? d.said : "an error");
		return false;
	}
	no = gap(&d);
	if (no) {
		snprintf(why, size, "what the agent said does not answer: %s", no);
		return false;
	}
	snprintf(out->value, sizeof out->value, "%.*s", (int)sizeof out->value - 1, d.execution);
	snprintf(out->program, sizeof out->program, "%.*s", (int)sizeof out->program - 1, d.program);
	out->idle = d.idle;
	return true;
}
