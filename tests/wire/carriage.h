/* A program there and back over a line bed, and the outcome that this has for people: what tests of
 * trouble share. */
#ifndef CARRIAGE_H
#define CARRIAGE_H

#include "line_bed.h"
#include "yoke/carry.h"

/* A_ONE is the digit of N10, behind the leader: with two bits turned over it is another digit in
 * all codes. */
enum { CARRIAGE_LEADER = 10, CARRIAGE_A_ONE = 33 };

extern const char carriage_program[];

/* The name of an outcome. */
const char *carriage_name(enum carry_error e);

/* Settings of a line at 9600, with short deadlines. */
struct line_serial carriage_settings(
    enum line_framing framing, enum line_code code, enum line_flow flow);

/* True when this is no line: EIA has eight tracks. */
bool carriage_impossible(enum line_framing f, enum line_code code);

/* A control that fits the settings, with a fault added. */
struct line_bed_control carriage_fault(
    const struct line_serial *set, const struct line_bed_control *fault);

/* The program goes to the control and is read back. */
enum carry_error carriage_run(struct line_bed *b, struct serial_send_outcome *o);

/* The control punches what it has, and that is compared with the program. */
enum carry_error carriage_punched(struct line_bed *b);

/*
 * True when the control holds the program's blocks to the byte, and nothing else. Its closing % is
 * no part of them: a control that missed it gives an alarm, and has every block.
 */
bool carriage_held(const struct line_bed *b);

#endif
