/* The configuration of a first start. */
#ifndef CONF_FIRST_H
#define CONF_FIRST_H

#include "yoke/text.h"

/*
 * Make home, its folders machines and programs, a commented yoke.conf and
 * machines/EXAMPLE.conf.sample, each only if it is not there: nothing that exists is altered. 0, or
 * -1 with one line (without its end) in why.
 */
int conf_first_write(const char *home, struct text *why);

#endif
