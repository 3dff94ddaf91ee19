#include "serial_send.h"

const char *serial_send_says(enum serial_send_reason reason)
{
	switch (reason) {
	case SERIAL_SEND_OK:
		return "";
	case SERIAL_SEND_STALL:
		return "the line stood still too long: the control's memory may be full, or the "
		       "line is stopped; the "
		       "control holds a stump, delete it there before sending again";
	case SERIAL_SEND_NO_DC1:
		return "the control did not ask for data (no DC1, or its ready line stayed off); "
		       "set it to read, or check cable and flow control";
	case SERIAL_SEND_LOST:
		return "the connection was lost; what the control holds is unknown, look there "
		       "before sending again";
	case SERIAL_SEND_UNPLUGGED:
		return "the serial adapter was unplugged; what the control holds is unknown, look "
		       "there before sending again";
	case SERIAL_SEND_DROPPED:
		return "the control's line that tells that it is on (DSR or DCD) dropped: it lost "
		       "power, or the cable is out; what it holds is unknown, look there before "
		       "sending again";
	case SERIAL_SEND_BREAK:
		return "the line gave a break: the control lost power or broke off, or the cable "
		       "came out; what it holds is unknown, look there before sending again";
	case SERIAL_SEND_CANCELLED:
		return "cancelled; if a part was sent the control holds a stump, delete it there";
	case SERIAL_SEND_TOTAL:
		return "the transfer took too long; the control holds a stump, delete it there "
		       "before sending again";
	}
	return "";
}
