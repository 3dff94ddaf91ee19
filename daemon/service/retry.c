#include "retry.h"

#include <stdio.h>
#include "finish.h"

enum { PAUSE_FIRST_MS = 2000, PAUSE_MOST_MS = 60000 };

bool retry_wanted(struct service *s, struct service_machine *m, const struct carry_order *order,
    enum carry_error error)
{
	uint64_t now = uv_now(s->loop), pause = PAUSE_FIRST_MS;

	if (order->item[0].line.kind == LINE_SERIAL || !finish_error_passes(error) ||
	    m->cancelled == order->id)
		return false;
	if (m->retry.order != order->id) {
		m->retry.order = order->id;
		m->retry.tries = 0;
		m->retry.until = now + (uint64_t)m->conf->retry_s * 1000;
	}
	if (now >= m->retry.until)
		return false;
	for (unsigned i = 0; i < m->retry.tries && pause < PAUSE_MOST_MS; i++)
		pause *= 2;
	m->retry.tries++;
	m->retry.at = now + (pause < PAUSE_MOST_MS ? pause : PAUSE_MOST_MS);
	return true;
}

void retry_tell(struct service *s, const struct service_machine *m, uint64_t order, const char *why)
{
	char text[CARRY_TEXT_MAX + 64];
	json_t *line;

	snprintf(text, sizeof(text), "%s; it is tried again in %llu s", why,
	    (unsigned long long)(m->retry.at - uv_now(s->loop) + 999) / 1000);
	line = json_pack("{s:I, s:s, s:s, s:s}", "order", (json_int_t)order, "machine",
	    m->conf->name, "phase", "again", "text", text);
	if (line)
		api_publish(s->api, order, line);
	json_decref(line);
}

bool retry_waits(const struct service *s, const struct service_machine *m, uint64_t order)
{
	return m->retry.order == order && uv_now(s->loop) < m->retry.at;
}
