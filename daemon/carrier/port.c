#include "port.h"

#include <errno.h>
#include <fcntl.h>
#include <libserialport.h>
#include <linux/serial.h>
#include <stdio.h>
#include <string.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <termios.h>
#include "port_find.h"
#include "port_holder.h"

struct frame {
	int bits, stop;
	enum sp_parity parity;
};

static struct frame frame_of(enum line_framing f)
{
	switch (f) {
	case LINE_7E1:
		return (struct frame){7, 1, SP_PARITY_EVEN};
	case LINE_7E2:
		return (struct frame){7, 2, SP_PARITY_EVEN};
	case LINE_7O1:
		return (struct frame){7, 1, SP_PARITY_ODD};
	case LINE_8N2:
		return (struct frame){8, 2, SP_PARITY_NONE};
	case LINE_8E1:
		return (struct frame){8, 1, SP_PARITY_EVEN};
	case LINE_8N1:
		break;
	}
	return (struct frame){8, 1, SP_PARITY_NONE};
}

/* Every setting by hand: after sp_open the port has flow control and an unset parity. */
static int configure(struct sp_port *port, int fd, const struct line_serial *line)
{
	struct frame fr = frame_of(line->framing);
	struct termios t;

	if (sp_set_baudrate(port, (int)line->baud) != SP_OK ||
	    sp_set_bits(port, fr.bits) != SP_OK || sp_set_parity(port, fr.parity) != SP_OK ||
	    sp_set_stopbits(port, fr.stop) != SP_OK ||
	    sp_set_flowcontrol(port, SP_FLOWCONTROL_NONE) != SP_OK)
		return -1;
	/* What the library leaves set or cannot set. */
	if (tcgetattr(fd, &t))
		return -1;
	t.c_iflag &= ~(tcflag_t)(IXON | IXOFF | IXANY | ISTRIP | ICRNL | INLCR | IGNCR);
	/* Wrong characters are marked where they stand (serial_mark.h): some drivers look at parity
	 * only then, and count it nowhere. */
	t.c_iflag &= ~(tcflag_t)(IGNPAR | IGNBRK | BRKINT);
	t.c_iflag |= INPCK | PARMRK;
	t.c_oflag &= ~(tcflag_t)OPOST;
	t.c_lflag &= ~(tcflag_t)(ICANON | ECHO | ISIG | IEXTEN);
	t.c_cflag &= ~(tcflag_t)CRTSCTS;
	t.c_cflag |= CLOCAL | CREAD;
	/* The library's own way to set this does nothing and says OK. */
	if (line->flow == LINE_FLOW_RTSCTS || line->flow == LINE_FLOW_BOTH)
		t.c_cflag |= CRTSCTS;
	return tcsetattr(fd, TCSANOW, &t);
}

/* A speed that the port does not have is taken without a word, and another one set. */
static bool speed_is(struct sp_port *port, uint32_t baud)
{
	struct sp_port_config *c;
	int is = 0;

	if (sp_new_config(&c) != SP_OK)
		return false;
	if (sp_get_config(port, c) == SP_OK)
		sp_get_config_baudrate(c, &is);
	sp_free_config(c);
	return is == (int)baud;
}

/* Another user of the port that we may see, one that does not ask for our lock, too: -1, named in
 * the fault. */
static int in_use(const struct stream *s, const char *device, uint32_t item, struct fault *f)
{
	struct text who = {0};
	bool is = port_holder_find("/proc", device, &who) ||
	          port_holder_lock("/run/lock", device + strlen("/dev/"), &who);

	if (is)
		fault_set(f, CARRY_ERROR_BUSY, item, "%s is used by %s; end that first", s->name,
		    who.s ? who.s : "another program");
	text_free(&who);
	return is ? -1 : 0;
}

/* The port is refused to us: by whom, if that can be seen. */
static int busy(const struct stream *s, const char *device, uint32_t item, struct fault *f)
{
	if (in_use(s, device, item, f))
		return -1;
	return fault_set(f, CARRY_ERROR_BUSY, item,
	    "%s is used by another program, or by another channel under another address", s->name);
}

static int take_over(struct stream *s, const struct line_serial *line, const char *device,
    uint32_t item, struct fault *f)
{
	int fd;

	if (sp_get_port_handle(s->port, &fd) != SP_OK)
		return fault_set(f, CARRY_ERROR_IO, item, "%s gives no descriptor", s->name);
	s->fd = fd;
	if (fcntl(fd, F_SETFD, FD_CLOEXEC) || fcntl(fd, F_SETFL, O_RDWR | O_NONBLOCK))
		return fault_errno(f, errno, item, "%s cannot be used", s->name);
	/* Root passes TIOCEXCL: the lock is between programs that ask. */
	if (flock(fd, LOCK_EX | LOCK_NB) || ioctl(fd, TIOCEXCL))
		return busy(s, device, item, f);
	if (configure(s->port, fd, line))
		return fault_errno(f, errno, item, "%s does not take its settings", s->name);
	if (!speed_is(s->port, line->baud))
		return fault_set(f, CARRY_ERROR_ORDER, item,
		    "%s does not have the speed %u; change 'baud'", s->name, line->baud);
	if (sp_flush(s->port, SP_BUF_BOTH) != SP_OK)
		return fault_errno(f, errno, item, "%s cannot be emptied", s->name);
	port_counts(fd, &s->before);
	return 0;
}

int port_open(struct stream *s, const struct line_serial *line, uint32_t item, struct fault *f)
{
	char device[sizeof "/dev/" + sizeof(((struct port *)0)->name)];
	struct port found;

	if (port_find("/sys", line->address, item, &found, f))
		return -1;
	snprintf(device, sizeof device, "/dev/%s", found.name);
	snprintf(s->name, sizeof s->name, "%.200s (%s)", line->address, device);
	if (in_use(s, device, item, f))
		return -1;
	if (sp_get_port_by_name(device, &s->port) != SP_OK)
		return fault_set(
		    f, CARRY_ERROR_OFFLINE, item, "%s is no serial port that can be used", s->name);
	errno = 0;
	if (sp_open(s->port, SP_MODE_READ_WRITE) != SP_OK) {
		if (errno == EBUSY)
			busy(s, device, item, f);
		else
			fault_set(f, CARRY_ERROR_OFFLINE, item, "%s cannot be opened: %s", s->name,
			    errno ? strerror(errno) : "it is no serial port that can be used");
		goto free;
	}
	if (!take_over(s, line, device, item, f))
		return 0;
	sp_flush(s->port, SP_BUF_OUTPUT);
	sp_close(s->port);
free:
	sp_free_port(s->port);
	s->port = NULL;
	s->fd = -1;
	return -1;
}

void port_close(struct stream *s)
{
	sp_flush(s->port, SP_BUF_BOTH);
	sp_close(s->port);
	sp_free_port(s->port);
	s->port = NULL;
}

bool port_counts(int fd, struct stream_counts *out)
{
	struct serial_icounter_struct c;

	*out = (struct stream_counts){0};
	if (ioctl(fd, TIOCGICOUNT, &c))
		return false;
	*out = (struct stream_counts){
	    .frame = (uint32_t)c.frame,
	    .parity = (uint32_t)c.parity,
	    .overrun = (uint32_t)c.overrun + (uint32_t)c.buf_overrun,
	    .brk = (uint32_t)c.brk,
	};
	return true;
}

bool port_has_sent(int fd)
{
	unsigned state;

	return !ioctl(fd, TIOCSERGETLSR, &state) && (state & TIOCSER_TEMT);
}

bool port_signals(int fd, struct stream_signals *out)
{
	int is;

	if (ioctl(fd, TIOCMGET, &is))
		return false;
	*out = (struct stream_signals){is & TIOCM_CTS, is & TIOCM_DSR, is & TIOCM_CAR};
	return true;
}
