/*
 * How a machine's file names a local port: by something that stays with the adapter or with the
 * place where it is plugged in, never by a name that the kernel gives in order of arrival.
 *
 *   usb:SERIAL           a USB adapter by its serial number
 *   usb:VID:PID:SERIAL   the same, vendor and product as four hexadecimal digits each
 *   path:WHERE           the place: the name that /dev/serial/by-path has for it
 *   port:NAME            a port of the computer itself, such as ttyS0 or ttyAMA0
 */
#ifndef PORT_ADDRESS_H
#define PORT_ADDRESS_H

#include <stdbool.h>
#include "yoke/text.h"

enum port_address_kind {
	PORT_ADDRESS_USB = 1,
	PORT_ADDRESS_PATH,
	PORT_ADDRESS_NAME,
};

struct port_address {
	enum port_address_kind kind;
	char vendor[5], product[5]; /* of usb:VID:PID:SERIAL, in small letters; else "" */
	const char *what;           /* serial number, place or name; points into the address */
};

/* Read an address. False when it names no local port by one of the forms above. */
bool port_address_read(const char *address, struct port_address *out);

/* True when the kernel numbers ports of this name (ttyUSB0) in order of arrival. */
bool port_address_moves(const char *name);

/* Why an address that cannot be read is refused and what to write instead, one sentence, put behind
 * out's text. */
void port_address_advise(const char *address, struct text *out);

#endif
