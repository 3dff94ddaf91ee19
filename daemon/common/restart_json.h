/*
 * Restart places as JSON, for `yoke restart --json`:
 *
 * {"machine": string, "job": string, "revision": string, "outcome": string, "switches": string,
 *  "followed": "whole"|"stands for ever"|"in part", "why": string, "branches": bool,
 *  "segments": [segment...], "more_segments": n, "places": [place...], "more_places": n,
 *  "near": [near...], "dangerous": bool, "cautions": [string...]}
 * segment: {"segment": n, "behind": string, "signals": bool,
 *  "channels": [{"channel": string, "place": bool, "why_not": string}]}
 * place: {"channel": string, "kind": "start"|"behind wait code"|"tool change", "file": string,
 *  "line": n, "sequence": n|null, "first_segment": n, "last_segment": n, "behind": string,
 *  "comment": string, "repeats": bool, "state": state}
 * near: {"channel": string, "asked": "N430"|"line 120", "found": bool, "at": block or null,
 *  "times": n, "elsewhere": bool, "first_segment": n, "last_segment": n, "why_not": string,
 *  "segment": n|null, "places": [place...]}       segment null: no places match
 * state: {"tool", "tool_next", "offset", "h", "d", "work_offset_p", "feed", "speed", "clamp": word,
 *  "work_offset", "length_offset", "plane", "units", "distance", "motion", "compensation",
 *  "feed_mode", "speed_mode", "spindle": code, "mist", "flood": bool|"not known"|null,
 *  "axes": {"X": {"at": x, "shifted": bool}...}, "codes": [{"code": n, "group": string,
 *  "meaning": string}], "variables": bool, "origin": bool}
 * word: null never programmed, "not known", or the number as it was written
 * code: null never programmed, "not known", or "G54", "M03"
 * axes: those whose place is known: mm (X as it is programmed, a diameter where it is one), degrees
 */
#ifndef RESTART_JSON_H
#define RESTART_JSON_H

#include <jansson.h>
#include "yoke/restart.h"

/* A new reference, or NULL when memory runs out. */
json_t *restart_json(const struct restart *r);

#endif
