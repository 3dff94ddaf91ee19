/*
 * The code of an expression: a byte of flags, then its tokens in the order of the text, brackets
 * balanced and operands and operators in turn, so that evaluation meets nothing that it must
 * refuse.
 *
 *     [#1 + 2 * ATAN[1]/[3]] -> flags ( # 1 + 2 * ATAN ( 1 ) over ( 3 ) ) end
 */
#ifndef NC_EXPR_CODE_H
#define NC_EXPR_CODE_H

#include "exact.h"

/* Flags: which questions of dialect it asks, and whether it reads variables. MIXED: operators stand
 * side by side that not every dialect takes in the same order. */
enum { NC_HAS_FIX = 1, NC_HAS_LOGIC = 2, NC_HAS_MIXED = 4, NC_HAS_VARIABLE = 8 };

enum nc_token {
	NC_T_END,
	NC_T_SMALL,    /* a whole number, 1 byte */
	NC_T_NUMBER,   /* mantissa, 8 bytes; scale, 1 */
	NC_T_VARIABLE, /* # in front of its number */
	NC_T_NEGATIVE,
	NC_T_OPEN,
	NC_T_CLOSE,
	NC_T_COMMA,         /* between the two values in the brackets of ATAN */
	NC_T_OVER,          /* between the two brackets of ATAN */
	NC_T_ARC,           /* ATAN of two values; while it is evaluated only */
	NC_T_FUNCTION = 32, /* + nc_function */
	NC_T_OPERATOR = NC_T_FUNCTION + NC_FUNCTIONS, /* + nc_op */
};

/* # in a row that are read: ##2 names a variable through another one. */
enum { NC_EXPR_MARKS = 8 };

/* How one control reads an expression: what to compute, and how strongly operators bind, from 1. */
struct nc_dialect {
	struct nc_reading reading;
	uint8_t strength[NC_OPS];
};

/* expr_dialect.c: the readings that a profile admits, of an expression with these flags, are
 * numbered from 0. False when there is no such number any more. */
bool nc_dialect_reading(
    const struct profile *profile, unsigned flags, unsigned number, struct nc_dialect *d);

#endif
