#include "fake_sys.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include <cmocka.h>

#define BUS "devices/pci0000:00/0000:00:14.0"

static void folders(char *path)
{
	for (char *s = strchr(path + 1, '/'); s; s = strchr(s + 1, '/')) {
		*s = '\0';
		mkdir(path, 0755);
		*s = '/';
	}
	mkdir(path, 0755);
}

static void put(const char *root, const char *folder, const char *name, const char *text)
{
	char path[600];
	FILE *f;

	snprintf(path, sizeof path, "%s/%s", root, folder);
	folders(path);
	snprintf(path, sizeof path, "%s/%s/%s", root, folder, name);
	f = fopen(path, "w");
	assert_non_null(f);
	fprintf(f, "%s\n", text);
	fclose(f);
}

static void link_to(const char *root, const char *folder, const char *name, const char *target)
{
	char path[600];

	snprintf(path, sizeof path, "%s/%s", root, folder);
	folders(path);
	snprintf(path, sizeof path, "%s/%s/%s", root, folder, name);
	unlink(path);
	assert_int_equal(symlink(target, path), 0);
}

/* The port's own folder below its device, and its entry in class/tty. */
static void entry(const char *root, const char *device, const char *name, const char *type)
{
	char folder[500], target[600];

	snprintf(folder, sizeof folder, "%s/tty/%s", device, name);
	put(root, folder, "uevent", "");
	if (type)
		put(root, folder, "type", type);
	link_to(root, folder, "device", "../..");
	link_to(root, folder, "subsystem", "/class/tty");
	snprintf(target, sizeof target, "../../%s", folder);
	link_to(root, "class/tty", name, target);
}

static void adapter(const char *root, const char *place, const char *serial)
{
	char folder[300];

	link_to(root, BUS, "subsystem", "/bus/pci");
	link_to(root, BUS "/usb1", "subsystem", "/bus/usb");
	put(root, BUS "/usb1", "idVendor", "1d6b");
	put(root, BUS "/usb1", "serial", "0000:00:14.0");
	snprintf(folder, sizeof folder, BUS "/usb1/1-%s", place);
	link_to(root, folder, "subsystem", "/bus/usb");
	put(root, folder, "idVendor", "0403");
	put(root, folder, "idProduct", "6001");
	put(root, folder, "product", "Invented Serial");
	if (serial)
		put(root, folder, "serial", serial);
	snprintf(folder, sizeof folder, BUS "/usb1/1-%s/1-%s:1.0", place, place);
	link_to(root, folder, "subsystem", "/bus/usb");
	put(root, folder, "bInterfaceNumber", "00");
}

void fake_sys_usb(
    const char *root, const char *name, const char *place, const char *serial, int number)
{
	char folder[400], text[16];

	adapter(root, place, serial);
	snprintf(folder, sizeof folder, BUS "/usb1/1-%s/1-%s:1.0/%s", place, place, name);
	link_to(root, folder, "subsystem", "/bus/usb-serial");
	snprintf(text, sizeof text, "%d", number);
	put(root, folder, "port_number", text);
	entry(root, folder, name, NULL);
}

void fake_sys_modem(const char *root, const char *name, const char *place, const char *serial)
{
	char folder[400];

	adapter(root, place, serial);
	snprintf(folder, sizeof folder, BUS "/usb1/1-%s/1-%s:1.0", place, place);
	entry(root, folder, name, NULL);
}

void fake_sys_platform(const char *root, const char *name, const char *device, const char *type)
{
	char folder[300];

	snprintf(folder, sizeof folder, "devices/platform/%s", device);
	link_to(root, folder, "subsystem", "/bus/platform");
	link_to(root, folder, "driver", "/bus/platform/drivers/invented-uart");
	entry(root, folder, name, type);
}

void fake_sys_card(const char *root, const char *name, const char *slot)
{
	char folder[300];

	snprintf(folder, sizeof folder, "devices/pci0000:00/0000:00:1c.0/0000:%s", slot);
	link_to(root, "devices/pci0000:00/0000:00:1c.0", "subsystem", "/bus/pci");
	link_to(root, folder, "subsystem", "/bus/pci");
	entry(root, folder, name, "4");
}

void fake_sys_console(const char *root, const char *name)
{
	char folder[300], target[400];

	snprintf(folder, sizeof folder, "devices/virtual/tty/%s", name);
	put(root, folder, "uevent", "");
	snprintf(target, sizeof target, "../../%s", folder);
	link_to(root, "class/tty", name, target);
}

void fake_sys_unplug(const char *root, const char *name)
{
	char path[600];

	snprintf(path, sizeof path, "%s/class/tty/%s", root, name);
	assert_int_equal(unlink(path), 0);
}
