/*
 * Characters as bits on the wire: start bit 0, data bits from the lowest, parity, stop bits 1. Each
 * side has its own framing, so that wrong settings do here what they do in the shop. Source: common
 * practice of asynchronous lines; after a character the line idles at 1, as between characters
 * that do not follow at once.
 */
#ifndef FRAME_H
#define FRAME_H

#include <stdint.h>
#include "yoke/line.h"

enum frame_fault {
	FRAME_OK = 0,
	FRAME_PARITY, /* the parity bit does not fit */
	FRAME_STOP,   /* no stop bit where one must be */
	FRAME_NONE,   /* no start bit: nothing is received */
};

/* The bits of a byte in a framing, the first in bit 0, all ones behind. */
uint32_t frame_send(enum line_framing framing, uint8_t byte);

/* What a port in this framing receives of these bits. *byte is set unless FRAME_NONE; bit 8 is 0
 * with 7 bits. */
enum frame_fault frame_take(enum line_framing framing, uint32_t bits, uint8_t *byte);

#endif
