/*
 * What Yoke itself writes on a stick beside the programs: 8.3 names, so that every control and
 * computer shows them as they are.
 */
#ifndef YOKE_STICK_H
#define YOKE_STICK_H

#define STICK_SUMS "YOKE.SUM"   /* checksums, as `sha256sum -c` reads them */
#define STICK_NOTE "YOKE.TXT"   /* what is on it, for a person */
#define STICK_NEW "YOKE%u.NEW"  /* a program before it is put in place, by its channel's number */
#define STICK_OLD "YOKE%u.OLD"  /* what it replaces, until both are in place */
#define STICK_OWN "YOKE"        /* how all of them begin, */
#define STICK_OWN_ENDS "SUM TXT NEW OLD" /* and end */

/*
 * The programs that `yoke export` writes have the time of the export as their file time, so that
 * `yoke import` knows them again. FAT counts in steps of two seconds, in local time: a time counts as
 * the same when it is up to STICK_TIME_STEP off, and shifted by quarters of an hour up to a day and
 * two hours, as by a change of the clock or another time zone.
 */
enum { STICK_TIME_STEP = 2, STICK_TIME_ZONE = 15 * 60, STICK_TIME_SHIFT = 26 * 3600 };

#endif
