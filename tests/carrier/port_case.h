/* A machine on a local port: the carrier sees the desk's pseudo-terminal as /dev/ttyS90, the port of
 * the adapter with the serial number A1B2C3, in a tree like /sys below the rig's "sys". */
#ifndef PORT_CASE_H
#define PORT_CASE_H

#include "line_case.h"

/* Both channels on the port; the script is connected from its beginning. */
void begin_port(void (*script)(struct desk *));
void end_port(void);

#endif
