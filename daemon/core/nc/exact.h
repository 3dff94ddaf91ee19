/*
 * Arithmetic on values. Each result knows how far a control's own may lie from it, so that whoever
 * compares or rounds it sees whether the answer is certain.
 */
#ifndef NC_EXACT_H
#define NC_EXACT_H

#include "expr.h"

/* How one control reads what a profile may leave open: never unknown. */
struct nc_reading {
	enum profile_fix fix;
	enum profile_truth truth;
	bool nist; /* the profile says that FIX goes down as in NISTIR 6556; then MOD is its too */
};

/* Operators, those of equal strength in every dialect side by side. */
enum nc_op {
	NC_OP_POW,
	NC_OP_MUL,
	NC_OP_DIV,
	NC_OP_MOD,
	NC_OP_ADD,
	NC_OP_SUB,
	NC_OP_EQ,
	NC_OP_NE,
	NC_OP_GT,
	NC_OP_GE,
	NC_OP_LT,
	NC_OP_LE,
	NC_OP_AND,
	NC_OP_OR,
	NC_OP_XOR,
	NC_OPS
};

enum nc_function {
	NC_F_ABS,
	NC_F_ACOS,
	NC_F_ASIN,
	NC_F_ATAN,
	NC_F_COS,
	NC_F_EXP,
	NC_F_FIX,
	NC_F_FUP,
	NC_F_LN,
	NC_F_ROUND,
	NC_F_SIN,
	NC_F_SQRT,
	NC_F_TAN,
	NC_F_BIN,
	NC_F_BCD,
	NC_F_NOT,
	NC_FUNCTIONS
};

/* exact_value.c */

/* num / den, den not 0, off by at most off; near when it does not fit. */
struct nc_value nc_exact_ratio(__int128 num, __int128 den, double off);
/* Near real, off by at most off and the rounding of one step; unknown when it is no finite number.
 */
struct nc_value nc_exact_near(double real, double off);
/* why: static text. */
struct nc_value nc_exact_alarm(const char *why);
/* Not known, but 0 or 1: what a comparison leaves. Elsewhere it is as any unknown. */
struct nc_value nc_exact_maybe(void);
bool nc_exact_is_maybe(const struct nc_value *v);
/* v; when it is unknown, because of computing with these values, and partial: where the operation
 * may alarm: marked if so. A result that does not depend on v, as 0 AND v, is then not known. */
struct nc_value nc_exact_marked(
    struct nc_value v, const struct nc_value *a, const struct nc_value *b, bool partial);
/* An unknown value that was so marked. */
bool nc_exact_may_alarm(const struct nc_value *v);
/* A number: exact or near. */
bool nc_exact_is_number(const struct nc_value *v);
/* How far a control's number may lie from v, where v may be a number as it was written: one without
 * exact binary form has its one neighbour everywhere, but computing with it rounds. */
double nc_exact_off(const struct nc_value *v);
/* True when every control holds exactly this number: it has nine decimal digits at most, and a
 * binary form. */
bool nc_exact_is_certain(const struct nc_value *v);
/* -1 when it is certainly below 0, 1 above, 0 when it is 0; 2 when that depends on rounding. */
int nc_exact_sign(const struct nc_value *v);

/* exact.c: -v, and a op b of any two values. */
struct nc_value nc_exact_negative(const struct nc_value *v);
struct nc_value nc_exact_op(const struct nc_reading *reading, enum nc_op op,
    const struct nc_value *a, const struct nc_value *b);

/* exact_compare.c: EQ to LE, and AND, OR, XOR of any two values that are no alarms. */
struct nc_value nc_exact_compare(enum nc_op op, const struct nc_value *a, const struct nc_value *b);
struct nc_value nc_exact_logic(const struct nc_reading *reading, enum nc_op op,
    const struct nc_value *a, const struct nc_value *b);
struct nc_value nc_exact_not(const struct nc_reading *reading, const struct nc_value *v);

/* exact_function.c: a function of any value; NISTIR 6556, 3.3.2.4, angles in degrees. */
struct nc_value nc_exact_function(
    const struct nc_reading *reading, enum nc_function f, const struct nc_value *v);
/* The angle whose tangent is a / b, ATAN[a]/[b]. */
struct nc_value nc_exact_arc(const struct nc_value *a, const struct nc_value *b);

/* exact_round.c: FIX, FUP and ROUND of a number. */
struct nc_value nc_exact_whole(
    const struct nc_reading *reading, enum nc_function f, const struct nc_value *v);

#endif
