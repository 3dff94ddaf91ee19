/*
 * The check of a pair: its rules, its wait codes, and the ladder that shows them.
 * Agreement of wait codes does not prove that tools cannot meet: every output that reports it says
 * so.
 */
#ifndef YOKE_PAIR_H
#define YOKE_PAIR_H

#include <stdbool.h>
#include "yoke/program.h"
#include "yoke/text.h"

enum verdict {
	VERDICT_AGREE = 0,   /* no examined run lets a channel wait for ever */
	VERDICT_DISAGREE,    /* at least one run does */
	VERDICT_CANNOT_TELL, /* a run could not be followed */
};

/* "agree", "disagree", "cannot tell". */
const char *pair_verdict_name(enum verdict v);

struct pair_report;

/*
 * Check n programs against each other, one per channel in any order, n from 1 to the profile's
 * channels: a missing mate is a finding. The programs must be finished and must outlive the report.
 * NULL when memory runs out.
 */
struct pair_report *pair_check(
    const struct profile *profile, struct program *const *programs, size_t n);
void pair_report_free(struct pair_report *r);

enum verdict pair_verdict(const struct pair_report *r);

/* All findings: the programs' own and the pair's, by file and line, weights as the profile sets
 * them. */
const struct findings *pair_findings(const struct pair_report *r);

/*
 * Add a finding that only the caller can know (revision-reused, number-clash), with the profile's weight. channel: index
 * into the programs' channels, -1 for the pair. file and text are copied. 0, -1 without memory.
 */
int pair_add_finding(struct pair_report *r, enum finding_id id, int channel, const char *file, const char *text);

/* The heaviest weight among the findings; WEIGHT_OFF when there is none. */
enum weight pair_weight(const struct pair_report *r);

/* True when the pair may be released: no finding of weight refuse, and no certain disagreement, which no
 * weight of a profile changes. */
bool pair_may_release(const struct pair_report *r);

/* Job and revision that all programs agree on, "" where they do not. Belongs to the report. */
const char *pair_job(const struct pair_report *r);
const char *pair_revision(const struct pair_report *r);

/* How many meetings the channels pass together, for the switch setting in which they pass the
 * fewest. */
uint64_t pair_meetings(const struct pair_report *r);

/* One line per finding: file:line:col: weight: text [name], then the second place and the remedy,
 * indented. */
void pair_print_findings(const struct findings *f, struct text *out);

/* Two or three closing lines: verdict, counts per weight, and what the check does not cover. */
void pair_print_summary(const struct pair_report *r, struct text *out);

/* Where one channel stands at a rung of the run that is shown. */
struct pair_stop {
	bool present;        /* its program is there and can be followed up to here */
	bool at_end, begins; /* it has ended; its M99 begins the program again */
	bool goes;           /* it goes on from this rung */
	char code[32];       /* "M203"; "" where it stands at none */
	const char *file;    /* that the code stands in */
	uint64_t line;       /* of the code; 0 without */
	uint32_t col;
	int64_t sequence; /* N of its block, -1 without */
};

enum pair_rung_kind {
	PAIR_RUNG_MEETING, /* channels go on together */
	PAIR_RUNG_SIGNAL,  /* one channel sends a signal, or uses up one that was sent */
	PAIR_RUNG_ENDED,   /* all have ended */
	PAIR_RUNG_FAILED,  /* here channels stand for ever */
	PAIR_RUNG_LOST,    /* from here on it cannot be told */
};

struct pair_rung {
	enum pair_rung_kind kind;
	uint64_t number; /* from 0, in the order of the run */
	uint64_t repeat; /* how many rungs behind this one are not kept */
	struct pair_stop channel[YOKE_CHANNELS_MAX]; /* by channel of the machine */
};

/* How many rungs of the run shown are kept, and the i-th; the last one is how the run ends. */
size_t pair_rungs(const struct pair_report *r);
void pair_rung(const struct pair_report *r, size_t i, struct pair_rung *out);

struct ladder_style {
	unsigned width; /* columns to use, at least 60 */
	bool ascii;     /* no character beyond ASCII */
};

struct timeline;

/*
 * The ladder: two or more life lines and one rung per meeting (the idea of message sequence charts,
 * ITU-T Z.120), the failing rung marked by word and shape. With a timeline (NULL: none) it says
 * between two rungs what each channel does there, for how long, and who waits; its times are
 * estimates, and it says so. Long runs are shortened, and say so.
 */
void ladder_draw(const struct pair_report *r, const struct timeline *timeline,
    const struct ladder_style *style, struct text *out);

/* The same as a picture for print: one SVG 1.1 document, black on white, in which no colour carries
 * meaning. */
void ladder_svg(const struct pair_report *r, const struct timeline *timeline, struct text *out);

#endif
