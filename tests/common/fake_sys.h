/*
 * A tree like /sys for tests, as the kernel's Documentation/admin-guide/sysfs-rules.rst and
 * Documentation/ABI describe it: ports are links in class/tty to folders below devices, each folder
 * of a device has a link "subsystem", adapters have files idVendor, idProduct, serial.
 */
#ifndef FAKE_SYS_H
#define FAKE_SYS_H

/* A USB adapter's port at hub port "1.2" of the first host controller; serial NULL: none. number:
 * of the port within its adapter. The tree is made below root as far as it is not there. */
void fake_sys_usb(
    const char *root, const char *name, const char *place, const char *serial, int number);

/* The same for an adapter of the modem class, which has no port number. */
void fake_sys_modem(const char *root, const char *name, const char *place, const char *serial);

/* A port of the platform bus; type: the content of its file "type", "0" without hardware. */
void fake_sys_platform(const char *root, const char *name, const char *device, const char *type);

/* One of the ports of a plug-in card in slot "01:00.0". */
void fake_sys_card(const char *root, const char *name, const char *slot);

/* A virtual console: no device behind it. */
void fake_sys_console(const char *root, const char *name);

/* Take a port away. */
void fake_sys_unplug(const char *root, const char *name);

#endif
