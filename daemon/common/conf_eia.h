/* The key eia of a serial line: the codes of EIA that differ from control to control. */
#ifndef CONF_EIA_H
#define CONF_EIA_H

#include <stdint.h>
#include "conf_file.h"
#include "yoke/line.h"

/*
 * Read "NAME CODE, NAME CODE, ..." into set. NAME: ER TAB UC LC BS & ( ) : * = # [ ] @ $, capitals
 * or not; CODE: two hexadecimal digits with an odd number of holes that no other character has, or
 * none. What is not named keeps its default. Returns 0, or -1 with an error in the report; set is
 * then unchanged.
 */
int conf_eia_set(uint8_t set[LINE_EIA_CODES], const char *path, const struct conf_entry *e,
    struct conf_report *report);

#endif
