#include "port_list.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <unistd.h>

/* The first line of a small file of sysfs; "" when it is not there or is no plain text. */
static void attribute(const char *folder, const char *name, char *to, size_t size)
{
	char path[PATH_MAX];
	ssize_t n;
	int fd;

	*to = '\0';
	if (snprintf(path, sizeof path, "%s/%s", folder, name) >= (int)sizeof path)
		return;
	fd = open(path, O_RDONLY | O_CLOEXEC);
	if (fd < 0)
		return;
	n = read(fd, to, size - 1);
	close(fd);
	to[n > 0 ? n : 0] = '\0';
	to[strcspn(to, "\n")] = '\0';
	for (const char *s = to; *s; s++)
		if (*s < ' ' || *s > '~')
			*to = '\0';
}

/* The last part of where a link of sysfs leads; "" for none. */
static void link_name(const char *folder, const char *name, char *to, size_t size)
{
	char path[PATH_MAX], target[PATH_MAX];
	const char *last;
	ssize_t n;

	*to = '\0';
	if (snprintf(path, sizeof path, "%s/%s", folder, name) >= (int)sizeof path)
		return;
	n = readlink(path, target, sizeof target - 1);
	if (n <= 0)
		return;
	target[n] = '\0';
	last = strrchr(target, '/');
	last = last ? last + 1 : target;
	if (strlen(last) < size)
		strcpy(to, last);
}

/* Where a port is must be told whole: one that does not fit has no place. A / is in no name of
 * sysfs. */
enum { TOO_LONG = '/' };

static void prepend(struct port *p, const char *part)
{
	size_t n = strlen(part), m = strlen(p->path), dash = m > 0 && part[n - 1] != ':';

	if (p->path[0] == TOO_LONG)
		return;
	if (n + dash + m >= sizeof p->path) {
		p->path[0] = TOO_LONG;
		return;
	}
	memmove(p->path + n + dash, p->path, m + 1);
	memcpy(p->path, part, n);
	if (dash)
		p->path[n] = '-';
}

static void read_adapter(struct port *p, const char *folder)
{
	char vendor[8], product[8], maker[64], title[64];

	attribute(folder, "idVendor", vendor, sizeof vendor);
	attribute(folder, "idProduct", product, sizeof product);
	snprintf(p->vendor, sizeof p->vendor, "%.4s", vendor);
	snprintf(p->product, sizeof p->product, "%.4s", product);
	attribute(folder, "serial", p->serial, sizeof p->serial);
	/* Must be able to stand in a machine's file as it is. */
	if (strpbrk(p->serial, " ;/"))
		p->serial[0] = '\0';
	attribute(folder, "manufacturer", maker, sizeof maker);
	attribute(folder, "product", title, sizeof title);
	if (*maker || *title)
		snprintf(
		    p->title, sizeof p->title, "%s%s%s", maker, *maker && *title ? " " : "", title);
}

/*
 * One folder on the way from the port up to the root of devices. above: the bus of the part that
 * was noted last; a bus below itself (bridges, hubs) is noted once.
 */
static void read_level(struct port *p, const char *folder, char above[32])
{
	char bus[32], part[32], number[16];
	const char *name = strrchr(folder, '/') + 1;

	link_name(folder, "subsystem", bus, sizeof bus);
	/* Newer kernels put a bus of their own, with drivers "port" and "ctrl", below the device.
	 */
	if (!*p->title && strcmp(bus, "serial-base") != 0)
		link_name(folder, "driver", p->title, sizeof p->title);
	if (strcmp(bus, "usb-serial") == 0) {
		attribute(folder, "port_number", number, sizeof number);
		snprintf(part, sizeof part, "port%s", number);
		if (*number)
			prepend(p, part);
	} else if (strcmp(bus, "usb") == 0) {
		attribute(folder, "idVendor", number, sizeof number);
		if (*number && !p->vendor[0])
			read_adapter(p, folder);
		if (strcmp(above, bus) != 0 && strchr(name, '-')) {
			p->usb = true;
			prepend(p, strchr(name, '-') + 1);
			prepend(p, "usb-0:");
		}
	} else if (strcmp(bus, "pci") == 0 || strcmp(bus, "platform") == 0 ||
	           strcmp(bus, "acpi") == 0 || strcmp(bus, "amba") == 0 ||
	           strcmp(bus, "pnp") == 0) {
		if (strcmp(above, bus) != 0) {
			prepend(p, name);
			prepend(p, bus);
		}
	} else {
		return;
	}
	snprintf(above, sizeof(char[32]), "%s", bus);
}

/* False when it is no port with hardware behind it. */
static bool read_port(struct port *p, const char *sys, const char *name)
{
	char folder[PATH_MAX], type[8], above[32] = "", *real, *end;

	memset(p, 0, sizeof *p);
	if (strlen(name) >= sizeof p->name)
		return false;
	strcpy(p->name, name);
	snprintf(folder, sizeof folder, "%s/class/tty/%s", sys, name);
	attribute(folder, "type", type, sizeof type);
	if (strcmp(type, "0") == 0) /* PORT_UNKNOWN of linux/serial_core.h: nothing there */
		return false;
	snprintf(folder, sizeof folder, "%s/class/tty/%s/device", sys, name);
	real = realpath(folder, NULL);
	if (!real)
		return false;
	while ((end = strrchr(real, '/')) && end > real && strcmp(end, "/devices") != 0) {
		read_level(p, real, above);
		*end = '\0';
	}
	free(real);
	if (p->path[0] == TOO_LONG)
		p->path[0] = '\0';
	return true;
}

static int by_name(const void *a, const void *b)
{
	return strverscmp(((const struct port *)a)->name, ((const struct port *)b)->name);
}

int port_list_read(const char *sys, struct port_list *out)
{
	char path[PATH_MAX];
	struct dirent *e;
	int rc = 0;
	DIR *d;

	memset(out, 0, sizeof *out);
	if (snprintf(path, sizeof path, "%s/class/tty", sys) >= (int)sizeof path)
		return -ENAMETOOLONG;
	d = opendir(path);
	if (!d)
		return -errno;
	while (!rc && (errno = 0, e = readdir(d))) {
		struct port p, *more;

		if (e->d_name[0] == '.' || !read_port(&p, sys, e->d_name))
			continue;
		more = realloc(out->v, (out->n + 1) * sizeof *more);
		if (!more) {
			rc = -ENOMEM;
			break;
		}
		out->v = more;
		out->v[out->n++] = p;
	}
	if (!rc && errno)
		rc = -errno;
	closedir(d);
	if (out->n)
		qsort(out->v, out->n, sizeof *out->v, by_name);
	return rc;
}

void port_list_free(struct port_list *l)
{
	free(l->v);
	memset(l, 0, sizeof *l);
}

bool port_list_is(const struct port *p, const struct port_address *a)
{
	switch (a->kind) {
	case PORT_ADDRESS_USB:
		return p->usb && p->serial[0] && strcmp(p->serial, a->what) == 0 &&
		       (!a->vendor[0] || (strcasecmp(p->vendor, a->vendor) == 0 &&
		                             strcasecmp(p->product, a->product) == 0));
	case PORT_ADDRESS_PATH:
		return p->path[0] && strcmp(p->path, a->what) == 0;
	case PORT_ADDRESS_NAME:
		return !p->usb && strcmp(p->name, a->what) == 0;
	}
	return false;
}

void port_list_identity(const struct port_list *l, size_t i, struct text *out)
{
	const struct port *p = &l->v[i];
	char way[4][320] = {"", "", "", ""};
	bool card;

	if (p->usb && p->serial[0]) {
		snprintf(way[0], sizeof way[0], "usb:%s", p->serial);
		snprintf(way[1], sizeof way[1], "usb:%s:%s:%s", p->vendor, p->product, p->serial);
	}
	/* A port of the computer itself is known by its name; those of plug-in cards are numbered
	 * in the order of the cards. */
	card = !p->usb && strncmp(p->path, "pci-", 4) == 0;
	if (!p->usb)
		snprintf(way[2 + card], sizeof way[0], "port:%s", p->name);
	if (p->path[0])
		snprintf(way[3 - card], sizeof way[0], "path:%s", p->path);
	for (int k = 0; k < 4; k++) {
		struct port_address a;
		size_t n = 0;

		if (!port_address_read(way[k], &a))
			continue;
		for (size_t m = 0; m < l->n; m++)
			n += port_list_is(&l->v[m], &a);
		if (n == 1) {
			text_puts(out, way[k]);
			return;
		}
	}
}
