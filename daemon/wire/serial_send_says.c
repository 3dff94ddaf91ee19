#include "serial_send.h"

/* What happened; and what it means for a control that stores what it reads, and what to do. */
struct says {
	const char *happened, *whole;
};

#define SAYS(happened, rest)                                                                       \
	{                                                                                          \
		happened, happened rest                                                            \
	}

static const struct says says[] = {
    [SERIAL_SEND_OK] = {"", ""},
    [SERIAL_SEND_STALL] = SAYS("the line stood still too long: the control's memory may be full, "
                               "or the line is stopped",
        "; the control holds a stump, delete it there before sending again"),
    [SERIAL_SEND_NO_DC1] =
        SAYS("the control did not ask for data (no DC1, or its ready line stayed off); set it to "
             "read, or check cable and flow control",
            ""),
    [SERIAL_SEND_LOST] = SAYS("the connection was lost",
        "; what the control holds is unknown, look there before sending again"),
    [SERIAL_SEND_UNPLUGGED] = SAYS("the serial adapter was unplugged",
        "; what the control holds is unknown, look there before sending again"),
    [SERIAL_SEND_DROPPED] =
        SAYS("the control's line that tells that it is on (DSR or DCD) dropped: it lost power, or "
             "the cable is out",
            "; what it holds is unknown, look there before sending again"),
    [SERIAL_SEND_BREAK] = SAYS("the line gave a break: the control lost power or broke off, or the "
                               "cable came out",
        "; what it holds is unknown, look there before sending again"),
    [SERIAL_SEND_CANCELLED] =
        SAYS("cancelled", "; if a part was sent the control holds a stump, delete it there"),
    [SERIAL_SEND_TOTAL] = SAYS("the transfer took too long",
        "; the control holds a stump, delete it there before sending again"),
};

static const struct says *find(enum serial_send_reason reason)
{
	return &says[(unsigned)reason < sizeof(says) / sizeof(says[0]) ? reason : SERIAL_SEND_OK];
}

const char *serial_send_says(enum serial_send_reason reason)
{
	return find(reason)->whole;
}

const char *serial_send_happened(enum serial_send_reason reason)
{
	return find(reason)->happened;
}
