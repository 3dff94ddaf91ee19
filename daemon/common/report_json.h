/*
 * What the check has to say, as JSON. One shape for `yoke check --json`, the verdict files and the
 * API:
 *
 * report: {
 *   "verdict": "agree" | "disagree" | "cannot tell",
 *   "may_release": bool,
 *   "weight": "off" | "note" | "warn" | "refuse",        the heaviest finding
 *   "job": string, "revision": string,                   "" where the programs do not agree on one
 *   "meetings": number,
 *   "counts": {"refuse": n, "warn": n, "note": n},
 *   "programs": [program...], "findings": [finding...],
 *   "caution": string                                    what the check does not cover
 * }
 * program: {"file": string, "channel": string|null, "job": string, "revision": string, "number":
 * n|null, "size": bytes, "blocks": n, "complete": bool, "sha256": hex} finding: {"name": string,
 * "weight": string, "channel": string|null, "file": string, "line": n, "col": n, "text": string,
 * "remedy": string, "why": string, "also": {"file", "line", "col"}|null}
 *
 * line and col count from 1, 0 means the file or the line as a whole; file "" means the pair as a
 * whole. Bytes that are not UTF-8 and control characters are written as <hh>.
 */
#ifndef REPORT_JSON_H
#define REPORT_JSON_H

#include <jansson.h>
#include <stdint.h>
#include "yoke/pair.h"

/* What each report says of itself. */
#define REPORT_JSON_CAUTION                                                                                    \
	"The check covers names, revisions and wait codes. It does not prove that tools cannot "   \
	"meet: prove "                                                                             \
	"out every new, changed or restored pair at the machine."

/* One program of a report, and the sum of its bytes. */
struct report_json_program {
	const char *file;
	const struct program *program;
	uint8_t sum[YOKE_SHA_SIZE];
};

/* All return a new reference, or NULL when memory runs out. */
json_t *report_json_pair(const struct profile *profile, const struct pair_report *report,
    const struct report_json_program *programs, size_t n);
json_t *report_json_findings(const struct profile *profile, const struct findings *findings);

/* A string made visible, so that it is always valid JSON. */
json_t *report_json_string(const char *s);

#endif
