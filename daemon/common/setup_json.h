/*
 * The setup sheet as JSON, for `yoke setup --json`:
 *
 * {"machine": string, "job": string, "revision": string, "outcome": string, "branches": bool,
 *  "channels": [channel...], "cautions": [string...], "computed_from": [string...]}
 * channel: {"channel": string, "file": string|null, "followed": "whole"|"in part"|"not at all",
 *  "why": string, "lost_at": place, "blocks": n, "waits": n, "diameter": bool, "inches": bool,
 * "tools": [tool...], "tools_waiting": count, "work_offsets": [work...], "speed": most,
 * "surface_speed": most, "clamp": most, "unclamped": most, "stops": [stop...], "codes": [code...],
 * "programs": [program...], "skips": [{"level": n, "blocks": n, "first": place}], "left_out":
 * {"moves": count, "cycles": count, "references": count, "calls": count, "speeds": n},
 * "not_listed": {"tools": n, "work_offsets": n, "stops": n, "codes": n, "programs": n}} place:
 * {"file": string, "line": n, "sequence": n|null} or null most: {"value": x, "at": place} or null;
 * 1/min, surface_speed and unclamped m/min count: {"count": n, "first": place} tool: {"tool":
 * n|null, "offsets": ["1", "H1"...], "more_offsets": n, "first": place, "changes": n, "comments":
 * [string...], "more_comments": n} work: {"work_offset": string, "first": place, "moves": n,
 * "axes": [{"axis": "X", "low": x, "low_at": place, "high": x, "high_at": place}]}   mm or degrees;
 * X as it is programmed, a diameter where "diameter" is true; work_offset "none programmed", "not
 * known", or "G54" stop: {"stop": "M00"|"M01", "skip": n, "at": place, "times": n, "comment":
 * string} code: {"code": n, "group": string, "meaning": string, "of_machine": bool, "times": n,
 *  "first": place, "last": place}                     meaning "" where it is not known
 * program: {"number": n|null, "name": string|null, "kind": "main"|"subprogram"|"in the control"|
 *  "missing", "at": place, "calls": n, "first_call": place}
 */
#ifndef SETUP_JSON_H
#define SETUP_JSON_H

#include <jansson.h>
#include "yoke/setup.h"

/* A new reference, or NULL when memory runs out. */
json_t *setup_json(const struct setup *s);

/* A block, or null; also of restart points. */
json_t *setup_json_place(const struct setup_place *p);

#endif
