#include "port_address.h"

#include <ctype.h>
#include <string.h>

/* Four hexadecimal digits and a colon, taken over in small letters. */
static bool four(const char *s, char to[5])
{
	for (int i = 0; i < 4; i++) {
		if (!isxdigit((unsigned char)s[i]))
			return false;
		to[i] = (char)tolower((unsigned char)s[i]);
	}
	to[4] = '\0';
	return s[4] == ':';
}

/* Names of ports that come and go: USB serial adapters, USB modems, Bluetooth. Kernel's
 * Documentation/admin-guide/devices.txt. */
bool port_address_moves(const char *name)
{
	return strncmp(name, "ttyUSB", 6) == 0 || strncmp(name, "ttyACM", 6) == 0 ||
	       strncmp(name, "rfcomm", 6) == 0;
}

static bool printable(const char *s)
{
	if (!*s)
		return false;
	for (; *s; s++)
		if (*s <= ' ' || *s > '~')
			return false;
	return true;
}

bool port_address_read(const char *address, struct port_address *out)
{
	memset(out, 0, sizeof *out);
	if (strncmp(address, "usb:", 4) == 0) {
		out->kind = PORT_ADDRESS_USB;
		out->what = address + 4;
		if (four(address + 4, out->vendor) && four(address + 9, out->product))
			out->what = address + 14;
		else
			out->vendor[0] = out->product[0] = '\0';
	} else if (strncmp(address, "path:", 5) == 0) {
		out->kind = PORT_ADDRESS_PATH;
		out->what = address + 5;
	} else if (strncmp(address, "port:", 5) == 0) {
		out->kind = PORT_ADDRESS_NAME;
		out->what = address + 5;
		if (port_address_moves(out->what))
			return false;
	} else {
		return false;
	}
	return printable(out->what) && !strchr(out->what, '/');
}

void port_address_advise(const char *address, struct text *out)
{
	const char *name = strrchr(address, '/');

	name = name ? name + 1 : strncmp(address, "port:", 5) ? address : address + 5;
	if (strncmp(address, "/dev/serial/by-path/", 20) == 0 && *name)
		text_printf(out, "write it as path:%s", name);
	else if (strncmp(address, "/dev/serial/by-id/", 18) == 0)
		text_puts(out,
		    "of adapters that look alike one only has this name; write usb:SERIAL or "
		    "path:WHERE, 'yoke ports' shows both");
	else if (port_address_moves(name))
		text_printf(out,
		    "the name %s goes to whichever adapter was found first, tomorrow perhaps to "
		    "another machine's; write usb:SERIAL or path:WHERE, 'yoke ports' shows both",
		    name);
	else if (strncmp(address, "/dev/", 5) == 0 && *name)
		text_printf(out, "a port of the computer itself is written as port:%s", name);
	else
		text_puts(out,
		    "a local port is written as usb:SERIAL, usb:VID:PID:SERIAL, path:WHERE or "
		    "port:NAME; 'yoke ports' shows the ports of this computer");
}
