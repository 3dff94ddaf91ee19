#include "expr_code.h"

#include <string.h>

/*
 * Ways to read AND, OR and XOR: as sums; AND as a product; weaker than comparisons, all alike or
 * AND before the others. Comparisons are weaker than sums everywhere.
 */
enum { LOGIC_SUM, LOGIC_PRODUCT, LOGIC_LAST, LOGIC_LAST_AND, LOGICS };

static bool admits(enum profile_logic said, unsigned logic)
{
	switch (said) {
	case PROFILE_LOGIC_SUM:
		return logic == LOGIC_SUM;
	case PROFILE_LOGIC_PRODUCT:
		return logic == LOGIC_PRODUCT;
	case PROFILE_LOGIC_LAST:
		return logic == LOGIC_LAST || logic == LOGIC_LAST_AND;
	default:
		return true;
	}
}

static void set_strength(uint8_t strength[NC_OPS], unsigned logic)
{
	/* NISTIR 6556, 3.3.2.3, and comparisons below (common practice) */
	static const uint8_t usual[NC_OPS] = {[NC_OP_POW] = 6,
	    [NC_OP_MUL] = 5,
	    [NC_OP_DIV] = 5,
	    [NC_OP_MOD] = 5,
	    [NC_OP_ADD] = 4,
	    [NC_OP_SUB] = 4,
	    [NC_OP_EQ] = 3,
	    [NC_OP_NE] = 3,
	    [NC_OP_GT] = 3,
	    [NC_OP_GE] = 3,
	    [NC_OP_LT] = 3,
	    [NC_OP_LE] = 3};
	static const uint8_t of_and[LOGICS] = {4, 5, 1, 2}, of_or[LOGICS] = {4, 4, 1, 1};

	memcpy(strength, usual, sizeof(usual));
	strength[NC_OP_AND] = of_and[logic];
	strength[NC_OP_OR] = strength[NC_OP_XOR] = of_or[logic];
}

bool nc_dialect_reading(
    const struct profile *profile, unsigned flags, unsigned number, struct nc_dialect *d)
{
	unsigned fixes = flags & NC_HAS_FIX && !profile->fix ? 2 : 1;
	unsigned truths = flags & NC_HAS_LOGIC && !profile->truth ? 2 : 1;
	unsigned logic = 0;

	for (; logic < LOGICS; logic++) {
		if (!admits(profile->logic, logic))
			continue;
		if (number < fixes * truths)
			break;
		number -= fixes * truths;
		if (!(flags & NC_HAS_MIXED))
			return false;
	}
	if (logic == LOGICS)
		return false;
	set_strength(d->strength, logic);
	d->reading.fix = fixes == 2     ? (enum profile_fix)(PROFILE_FIX_ZERO + number % 2)
	                 : profile->fix ? profile->fix
	                                : PROFILE_FIX_ZERO;
	d->reading.truth = truths == 2 ? (enum profile_truth)(PROFILE_TRUTH_WHOLE + number / fixes)
	                   : profile->truth ? profile->truth
	                                    : PROFILE_TRUTH_WHOLE;
	d->reading.nist = profile->fix == PROFILE_FIX_DOWN;
	return true;
}
