#include "comport_words.h"

#include <stdio.h>

static const char *name_of(uint8_t command)
{
	switch (command) {
	case COMPORT_SET_BAUDRATE:
		return "the speed";
	case COMPORT_SET_DATASIZE:
		return "the number of data bits";
	case COMPORT_SET_PARITY:
		return "the parity";
	case COMPORT_SET_STOPSIZE:
		return "the stop bits";
	case COMPORT_SET_CONTROL:
		return "flow control or a modem line";
	case COMPORT_PURGE_DATA:
		return "emptying its buffers";
	default:
		return "a setting";
	}
}

/* A value as people say it. */
static void value_of(uint8_t command, uint32_t value, char *text, size_t size)
{
	static const char *const parity[] = {"?", "none", "odd", "even", "mark", "space"};
	static const char *const stop[] = {"?", "1", "2", "1.5"};
	static const char *const control[] = {"?", "none", "XON/XOFF", "RTS/CTS", "?", "break on",
	    "break off", "?", "DTR on", "DTR off", "?", "RTS on", "RTS off", "?", "?", "?", "?",
	    "DCD", "?", "DTR/DSR"};
	const char *word = NULL;

	if (command == COMPORT_SET_PARITY && value < sizeof parity / sizeof *parity)
		word = parity[value];
	if (command == COMPORT_SET_STOPSIZE && value < sizeof stop / sizeof *stop)
		word = stop[value];
	if (command == COMPORT_SET_CONTROL && value < sizeof control / sizeof *control)
		word = control[value];
	if (word && *word != '?')
		snprintf(text, size, "%s", word);
	else
		snprintf(text, size, "%u", value);
}

static void differs(const struct comport_outcome *o, char *text, size_t size)
{
	char asked[16], answered[16];

	value_of(o->command, o->asked, asked, sizeof asked);
	value_of(o->command, o->answered, answered, sizeof answered);
	if (o->reason == COMPORT_CHANGED)
		snprintf(text, size,
		    "the device server says that %s of its port is now %s, set was %s: who else "
		    "uses the port?",
		    name_of(o->command), answered, asked);
	else
		snprintf(text, size,
		    "the device server does not take %s: asked was %s, its answer is %s; change "
		    "the "
		    "setting, or the server's",
		    name_of(o->command), asked, answered);
}

void comport_words(const struct comport_outcome *o, uint32_t answer_ms, char *text, size_t size)
{
	if (size > 0)
		*text = '\0';
	switch (o->reason) {
	case COMPORT_OK:
		break;
	case COMPORT_NO_TELNET:
		snprintf(text, size,
		    "the device server does not answer as RFC 2217 wants it: switch that on for "
		    "this port, or write tcp:// for plain TCP");
		break;
	case COMPORT_REFUSED:
		snprintf(text, size,
		    "the device server refuses to have its port set (RFC 2217, COM-PORT): switch "
		    "that on for this port, or write tcp:// and set the port there");
		break;
	case COMPORT_NO_BINARY:
		snprintf(text, size,
		    "the device server refuses BINARY: it would change characters; switch that on "
		    "for this port, or write tcp:// for plain TCP");
		break;
	case COMPORT_NO_ANSWER:
		snprintf(text, size,
		    "the device server gave no answer about %s within %u ms: is RFC 2217 switched "
		    "on for this port?",
		    name_of(o->command), answer_ms);
		break;
	case COMPORT_DIFFERS:
	case COMPORT_CHANGED:
		differs(o, text, size);
		break;
	case COMPORT_GONE:
		snprintf(text, size,
		    "the device server does not answer any more: is it on, and the network whole?");
		break;
	case COMPORT_ENDLESS:
		snprintf(text, size,
		    "the device server asks for options without end, or takes nothing: is it a "
		    "device server?");
		break;
	}
}
