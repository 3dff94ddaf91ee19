/* What the tests ask of a device server's port, unless they say otherwise. */
#ifndef COMPORT_ASKED_H
#define COMPORT_ASKED_H

#include "comport.h"

static const struct comport_settings settings = {
    .baud = 9600,
    .size = 7,
    .parity = COMPORT_EVEN,
    .stop = 2,
    .flow = COMPORT_FLOW_NONE,
    .answer_ms = 3000,
    .silence_ms = 3000,
};

#endif
