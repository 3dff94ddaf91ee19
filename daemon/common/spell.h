/* Spelling help: the known name that was probably meant. */
#ifndef SPELL_H
#define SPELL_H

#include <stddef.h>

/*
 * The name nearest to word, in any case, by edit distance (letters inserted, left out, changed, or
 * two neighbours swapped); NULL when none is near enough to be worth a question: more than a third
 * of the letters differ. known: n names, none NULL. Returns one of them; of equally near ones the
 * first.
 */
const char *spell_nearest(const char *word, const char *const *known, size_t n);

#endif
