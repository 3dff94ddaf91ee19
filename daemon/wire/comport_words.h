/* What became of a device server's port, in words. */
#ifndef COMPORT_WORDS_H
#define COMPORT_WORDS_H

#include "comport.h"

/* A sentence about o.reason into text, "" for COMPORT_OK. answer_ms: how long was waited. */
void comport_words(const struct comport_outcome *o, uint32_t answer_ms, char *text, size_t size);

#endif
