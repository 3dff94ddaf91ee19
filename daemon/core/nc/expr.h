/*
 * Expressions: compiled once, when the block is read, and evaluated as often as it is executed.
 * Values are exact rational numbers while they fit, near ones otherwise, and each knows how far a
 * control's number may lie from it. Where a result would depend on how a control rounds, it is
 * unknown.
 *
 * Language: NISTIR 6556, 3.3.2.2 to 3.3.2.4, the comparison words and NOT, BIN, BCD, and a comma
 * in ATAN[a,b] (common practice).
 */
#ifndef NC_EXPR_H
#define NC_EXPR_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "yoke/profile.h"

enum nc_value_kind {
	NC_VALUE_UNKNOWN, /* depends on data that the program does not hold */
	NC_VALUE_EXACT,   /* num / den, in lowest terms, den > 0 */
	NC_VALUE_NEAR,    /* irrational or too long: about real, to 12 digits */
	NC_VALUE_VACANT,  /* a variable that holds nothing: #0 */
	NC_VALUE_ALARM,   /* a control alarms here: why says at what */
};

struct nc_value {
	uint8_t kind; /* nc_value_kind */
	bool rounds;  /* EXACT, but computed from numbers that have no exact binary form or over
	                 nine digits: a control may hold a neighbour of it */
	int64_t num, den;
	double real; /* of EXACT and NEAR */
	double off;  /* of NEAR, and of EXACT that rounds: a control's number lies no farther away.
	                It is reckoned with NC_ROUNDING for each step of a computation */
	const char *why; /* of ALARM: static text */
};

/* A control keeps at least nine digits at each step: its part of a number that a step may be off
 * (common practice; binary controls with 64 bits keep fifteen). */
#define NC_ROUNDING 1e-9

/* The compiled expressions of one program. Zero-initialise. An expression is named by its index;
 * it stays valid while the pool lives. Equal constants may share one. */
struct nc_pool {
	uint8_t *code;
	size_t n, cap;
};
void nc_pool_free(struct nc_pool *p);

enum { NC_EXPR_NONE = -1, NC_EXPR_NO_MEMORY = -2, NC_EXPR_DEPTH = 100 };

/*
 * Compile what stands at s (n bytes): nc_expr_value one value, as behind a word's letter or GOTO
 * (#1, -[..], SIN[..], 12.5); nc_expr_sum a whole sum or comparison without brackets around it, as
 * behind a setting's =. Blanks may stand anywhere. *used: bytes read. The index, NC_EXPR_NONE when
 * none stands there that can be read (nested over NC_EXPR_DEPTH too), NC_EXPR_NO_MEMORY.
 */
int64_t nc_expr_value(struct nc_pool *p, const char *s, size_t n, size_t *used);
int64_t nc_expr_sum(struct nc_pool *p, const char *s, size_t n, size_t *used);
/* A constant: mantissa * 10^-scale, scale at most 18. */
int64_t nc_expr_constant(struct nc_pool *p, int64_t mantissa, unsigned scale);

/* What variable number holds. */
typedef struct nc_value nc_expr_read_fn(void *ctx, uint32_t number);

/*
 * Evaluate. Dialect (fix, logic, truth) by profile; where that does not say and the readings
 * differ, the result is unknown.
 */
struct nc_value nc_expr_eval(const struct nc_pool *p, uint32_t expr, const struct profile *profile,
    nc_expr_read_fn *read, void *ctx);

/* True when the expression reads no variable. */
bool nc_expr_is_constant(const struct nc_pool *p, uint32_t expr);
/* Set the bits of the variables #1 to #33 that it may read (bit 1 to 33); bit 0: a computed index,
 * which may be any. Others, such as #500, set none. */
uint64_t nc_expr_reads(const struct nc_pool *p, uint32_t expr);

/* Values. */
struct nc_value nc_value_int(int64_t v);
struct nc_value nc_value_unknown(void);
/* 1 true, 0 false, -1 not known: zero is false (NISTIR 6556, 3.3.2.3). A vacant value is not known.
 */
int nc_value_truth(const struct nc_value *v);
/* True and *whole set when the value is certainly this whole number, 0 or more. NISTIR 6556,
 * 3.3.2.1, accepts what is within 0.0001 of one; that holds only for values that are no exact
 * decimal otherwise. */
bool nc_value_whole(const struct nc_value *v, uint64_t *whole);
/* Same kind, same number: for comparing states, not for deciding what a control does. */
bool nc_value_same(const struct nc_value *a, const struct nc_value *b);
/* As mantissa * 10^-scale: exact where that fits, otherwise rounded to 6 digits behind the point.
 * False when there is no number. */
bool nc_value_decimal(const struct nc_value *v, int64_t *mantissa, uint8_t *scale);

#endif
