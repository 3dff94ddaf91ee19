#include "port_case.h"

#include <stdlib.h>
#include <string.h>
#include "fake_sys.h"

void begin_port(void (*script)(struct desk *))
{
	desk_open_port(&d, script);
	for (int i = 0; i < 2; i++) {
		desk_line(&d, &r, (uint32_t)i);
		strcpy(r.order.item[i].line.serial.address, "usb:A1B2C3");
		r.order.item[i].line.serial.baud = 38400;
	}
	fake_sys_usb(rig_path(&r, "sys"), "ttyS90", "1.2", "A1B2C3", 0);
	setenv("YOKE_TEST_SYS", rig_path(&r, "sys"), 1);
	setenv("LD_PRELOAD", PORT_SHIM, 1);
	setenv("ASAN_OPTIONS", "verify_asan_link_order=0", 1);
	setenv("YOKE_TEST_PORT", d.name, 1);
	setenv("YOKE_TEST_PORT_LOG", rig_path(&r, "settings"), 1);
}

void end_port(void)
{
	unsetenv("LD_PRELOAD");
	desk_close(&d);
}
