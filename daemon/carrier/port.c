#include "port.h"

#include <errno.h>
#include <fcntl.h>
#include <libserialport.h>
#include <linux/serial.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <termios.h>

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

/* libserialport finds ports by their name in /dev alone: links such as those by serial number are
 * followed first. */
static int find(
    struct sp_port **port, const struct line_serial *line, uint32_t item, struct fault *f)
{
	char *path = realpath(line->address, NULL);
	int rc;

	if (!path)
		return fault_set(f, CARRY_ERROR_OFFLINE, item,
		    "the port %s is not there (%s): is the adapter plugged in?", line->address,
		    strerror(errno));
	errno = 0;
	rc = sp_get_port_by_name(path, port);
	free(path);
	if (rc != SP_OK)
		return fault_set(f, CARRY_ERROR_OFFLINE, item,
		    "%s is no serial port that can be used", line->address);
	return 0;
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
	t.c_oflag &= ~(tcflag_t)OPOST;
	t.c_lflag &= ~(tcflag_t)(ICANON | ECHO | ISIG | IEXTEN);
	t.c_cflag &= ~(tcflag_t)CRTSCTS;
	t.c_cflag |= CLOCAL | CREAD;
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

static int take_over(
    struct stream *s, const struct line_serial *line, uint32_t item, struct fault *f)
{
	int fd;

	if (sp_get_port_handle(s->port, &fd) != SP_OK)
		return fault_set(f, CARRY_ERROR_IO, item, "%s gives no descriptor", line->address);
	s->fd = fd;
	if (fcntl(fd, F_SETFD, FD_CLOEXEC) || fcntl(fd, F_SETFL, O_RDWR | O_NONBLOCK))
		return fault_errno(f, errno, item, "%s cannot be used", line->address);
	/* Root passes TIOCEXCL: the lock is between programs that ask. */
	if (flock(fd, LOCK_EX | LOCK_NB) || ioctl(fd, TIOCEXCL))
		return fault_set(f, CARRY_ERROR_BUSY, item, "%s is used by another program (%s)",
		    line->address, strerror(errno));
	if (configure(s->port, fd, line))
		return fault_errno(f, errno, item, "%s does not take its settings", line->address);
	if (!speed_is(s->port, line->baud))
		return fault_set(f, CARRY_ERROR_ORDER, item,
		    "%s does not have the speed %u; change 'baud'", line->address, line->baud);
	if (sp_flush(s->port, SP_BUF_BOTH) != SP_OK)
		return fault_errno(f, errno, item, "%s cannot be emptied", line->address);
	s->errors_before = port_errors(fd);
	return 0;
}

int port_open(struct stream *s, const struct line_serial *line, uint32_t item, struct fault *f)
{
	if (find(&s->port, line, item, f))
		return -1;
	errno = 0;
	if (sp_open(s->port, SP_MODE_READ_WRITE) != SP_OK) {
		fault_set(f, errno == EBUSY ? CARRY_ERROR_BUSY : CARRY_ERROR_OFFLINE, item,
		    "%s cannot be opened: %s", line->address,
		    errno ? strerror(errno) : "it is no serial port that can be used");
		goto free;
	}
	if (!take_over(s, line, item, f))
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

uint64_t port_errors(int fd)
{
	struct serial_icounter_struct c;

	if (ioctl(fd, TIOCGICOUNT, &c))
		return 0;
	return (uint64_t)c.frame + (uint64_t)c.overrun + (uint64_t)c.parity + (uint64_t)c.brk +
	       (uint64_t)c.buf_overrun;
}
