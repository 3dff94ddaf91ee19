/*
 * The ladder as JSON, for `yoke ladder --json`:
 *
 * {"verdict": string, "job": string, "revision": string, "meetings": n,
 *  "channels": [{"name": string, "present": bool|null, "work_seconds": x|null,
 *                "wait_seconds": x|null, "left_out": {words: n}}],
 *  "rungs": [rung...], "parts": [part...], "cycle_seconds": x|null,
 *  "times_are": string, "caution": string, "ladder": [line...],
 *  "times_up_to": "the end"|"where channels stand for ever"|"where a channel is not followed",
 *  "branches": bool, "critical_known": bool}
 * rung: {"number": n, "kind": "meeting"|"signal"|"ended"|"failed"|"lost", "repeat": n,
 *  "at_seconds": x|null, "channels": [stop...]}     one stop for each channel of the machine
 * stop: {"state": "waits"|"ended"|"begins again"|"unknown", "goes": bool, "code": string,
 *  "file": string, "line": n, "col": n, "sequence": n|null}
 * part: {"channel": string, "from": n|null, "to": n|null, "first_line": n, "last_line": n,
 *  "blocks": n, "tools": [n...], "comment": string, "spindle": string, "seconds": x,
 *  "feed_seconds": x, "rapid_seconds": x, "dwell_seconds": x, "tool_seconds": x,
 *  "wait_seconds": x, "critical": bool, "gain_seconds": x, "left_out": {words: n}}
 *
 * Times are estimates; without a timeline they are null, "parts" is empty
 * and "left_out", "times_up_to", "branches" and "critical_known" are not there.
 */
#ifndef LADDER_JSON_H
#define LADDER_JSON_H

#include <jansson.h>
#include "yoke/pair.h"
#include "yoke/timeline.h"

/* A new reference, or NULL when memory runs out. timeline may be NULL; drawing: the ladder as
 * text. */
json_t *ladder_json(const struct profile *profile, const struct pair_report *report,
    const struct timeline *timeline, const struct text *drawing);

#endif
