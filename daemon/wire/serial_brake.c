#include "serial_brake.h"

#include <string.h>

void serial_brake_init(struct serial_brake *b, const struct line_serial *settings)
{
	enum line_flow flow = settings->flow;

	*b = (struct serial_brake){
	    .words = flow == LINE_FLOW_XON || flow == LINE_FLOW_BOTH,
	    .line = flow == LINE_FLOW_RTSCTS || flow == LINE_FLOW_DTRDSR || flow == LINE_FLOW_BOTH,
	    .dropped_since = SERIAL_BRAKE_NEVER,
	};
	b->obeyed = b->line &&
	            (flow != LINE_FLOW_DTRDSR || strncmp(settings->address, "rfc2217://", 10) == 0);
}

bool serial_brake_word(struct serial_brake *b, bool stop)
{
	if (!b->words)
		return false;
	b->dc3 = stop;
	b->on = b->dc3 || b->off;
	return true;
}

void serial_brake_line(struct serial_brake *b, uint64_t now, bool ready)
{
	if (!b->line || b->off == !ready)
		return;
	b->off = !ready;
	b->off_since = now;
	b->on = b->dc3 || b->off;
}

void serial_brake_watched(struct serial_brake *b, uint64_t now, bool on)
{
	if (on)
		b->dropped_since = SERIAL_BRAKE_NEVER;
	else if (b->dropped_since == SERIAL_BRAKE_NEVER)
		b->dropped_since = now;
}

uint64_t serial_brake_drops_at(const struct serial_brake *b)
{
	return b->dropped_since == SERIAL_BRAKE_NEVER ? SERIAL_BRAKE_NEVER
	                                              : b->dropped_since + SERIAL_BRAKE_DROP_MS;
}
