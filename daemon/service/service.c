/*
 * One loop, one thread. Order of start: vault, carriers, what was under way, API, folder. Order of
 * end: folder, carriers, API, vault. The loop never touches a device or a network share: carriers
 * do.
 */
#include "service.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <systemd/sd-daemon.h>
#include "arrive.h"
#include "backup.h"
#include "clock.h"
#include "configured.h"
#include "inside.h"
#include "later.h"
#include "more.h"
#include "orders.h"
#include "outcome.h"
#include "recover.h"
#include "refusals.h"
#include "retry.h"
#include "rights.h"
#include "room.h"
#include "seal.h"
#include "upload.h"
#include "verdict.h"

enum { PULSE_MS = 1000, SOCKET_MODE = 0660 };

struct service_machine *service_machine_find(struct service *s, const char *name)
{
	for (size_t i = 0; i < s->machines; i++)
		if (!strcmp(s->machine[i].conf->name, name))
			return &s->machine[i];
	return NULL;
}

const struct profile *service_profile(const struct service *s, const char *area)
{
	const struct conf_machine *m = *area ? conf_find(s->conf, area) : NULL;

	return m ? &m->profile : &s->conf->profile;
}

static void on_pulse(uv_timer_t *timer)
{
	struct service *s = timer->data;

	sd_notify(0, "WATCHDOG=1");
	refusals_due(s->refusals, uv_now(s->loop));
	for (size_t i = 0; i < s->machines; i++)
		later_try(s, &s->machine[i]);
	orders_kick(s);
	clock_pulse(s);
	room_pulse(s);
	seal_pulse(s->seal);
}

static void end(struct service *s)
{
	if (s->stopping)
		return;
	s->stopping = true;
	for (size_t i = 0; i < s->machines; i++)
		later_end(s, &s->machine[i]);
	sd_notify(0, "STOPPING=1");
	intake_free(s->intake);
	s->intake = NULL;
	arrive_stop(s->arrive);
	backup_end(s);
	if (s->dispatch)
		dispatch_stop(s->dispatch);
	if (s->api)
		api_stop(s->api);
	if (s->pulse_open)
		uv_close((uv_handle_t *)&s->pulse, NULL);
	if (s->signals_open) {
		uv_close((uv_handle_t *)&s->term, NULL);
		uv_close((uv_handle_t *)&s->interrupt, NULL);
	}
}

static void on_signal(uv_signal_t *handle, int number)
{
	end(handle->data);
}

static bool record_refusal(
    void *ctx, const char *who, const char *from, const struct vault_about *about)
{
	return ledger_record(ctx, EVENT_REFUSED, who, from, about) != 0;
}

static int open_vault(struct service *s)
{
	char path[YOKE_PATH_MAX + 32], why[512];

	snprintf(path, sizeof(path), "%s/vault", s->conf->home);
	if (mkdir(path, 0700) && errno != EEXIST) {
		fprintf(stderr, "yoked: %s: the vault's folder cannot be made: %s\n", path,
		    strerror(errno));
		return -1;
	}
	snprintf(path, sizeof(path), "%s/vault/yoke.db", s->conf->home);
	s->vault = vault_open(path, why, sizeof(why));
	if (!s->vault) {
		fprintf(stderr, "yoked: %s\n", why);
		return -1;
	}
	s->ledger = ledger_new(s->vault);
	s->refusals = s->ledger ? refusals_new(record_refusal, s->ledger) : NULL;
	return s->refusals ? 0 : -1;
}

static int take_machines(struct service *s)
{
	s->machines = s->conf->machines;
	s->machine = calloc(s->machines ? s->machines : 1, sizeof(*s->machine));
	if (!s->machine)
		return -1;
	for (size_t i = 0; i < s->machines; i++) {
		char path[2 * YOKE_PATH_MAX];

		s->machine[i].conf = &s->conf->machine[i];
		snprintf(path, sizeof(path), "%s/%s", s->conf->programs, s->conf->machine[i].name);
		if (mkdir(path, 0775) && errno != EEXIST)
			fprintf(stderr,
			    "yoked: %s: the machine's folder cannot be made: %s; make it by hand\n",
			    path, strerror(errno));
	}
	return 0;
}

static int start_intake(struct service *s)
{
	static const char *const skip[] = {VERDICT_FOLDER, NULL};
	struct intake_settings settings;

	intake_settings_default(&settings);
	settings.root = s->conf->programs;
	settings.events = s->conf->watch == CONF_WATCH_EVENTS;
	settings.poll_ms = s->conf->poll_ms;
	settings.settle_ms = s->conf->settle_ms;
	settings.incomplete_ms = (uint64_t)s->conf->incomplete_s * 1000;
	settings.skip_dirs = skip;
	s->arrive = arrive_new(s);
	s->intake = s->arrive ? intake_new(s->loop, &settings, &arrive_calls, s->arrive) : NULL;
	return s->intake ? intake_start(s->intake) : -1;
}

static int start_api(struct service *s)
{
	char why[512];

	if (sd_listen_fds(1) > 0)
		s->api = api_new_fd(s->loop, SD_LISTEN_FDS_START, rights_answers, s, why, sizeof(why));
	else
		s->api = api_new(
		    s->loop, s->conf->socket, SOCKET_MODE, rights_answers, s, why, sizeof(why));
	if (!s->api) {
		fprintf(stderr, "yoked: %s\n", why);
		return -1;
	}
	api_takes(s->api, &upload_take);
	ledger_tell(s->ledger, s->api);
	return 0;
}

static int start_pulse(struct service *s)
{
	s->pulse.data = s->term.data = s->interrupt.data = s;
	if (uv_timer_init(s->loop, &s->pulse))
		return -1;
	s->pulse_open = true;
	if (uv_signal_init(s->loop, &s->term) || uv_signal_init(s->loop, &s->interrupt))
		return -1;
	s->signals_open = true;
	if (uv_timer_start(&s->pulse, on_pulse, PULSE_MS, PULSE_MS) ||
	    uv_signal_start(&s->term, on_signal, SIGTERM) ||
	    uv_signal_start(&s->interrupt, on_signal, SIGINT))
		return -1;
	return 0;
}

static int start(struct service *s, const char *carrier)
{
	int64_t behind_us;

	/* The socket first: a start that fails on it has changed nothing and is no entry. */
	if (open_vault(s) || take_machines(s) || start_api(s) || clock_behind(s, &behind_us))
		return -1;
	if (!ledger_record(s->ledger, EVENT_STARTED, "service", "service",
	        &(struct vault_about){.text = "version " YOKE_VERSION}))
		return -1;
	if (configured_record(s) || configured_channels(s) || (behind_us && clock_tell_behind(s, behind_us)) || room_start(s))
		return -1;
	s->seal = seal_new(s);
	if (!s->seal)
		return -1;
	s->dispatch = dispatch_new(s->loop, carrier, &outcome_calls, s, NULL);
	if (!s->dispatch || start_pulse(s) || recover_start(s) || start_intake(s))
		return -1;
	sd_notify(0, "READY=1");
	printf("yoked: ready; programs in %s, socket %s, %zu machine%s\n", s->conf->programs,
	    s->conf->socket, s->machines, s->machines == 1 ? "" : "s");
	fflush(stdout);
	return 0;
}

int service_run(const struct conf *conf, const char *carrier)
{
	struct service s = {.conf = conf, .carrier = carrier};
	uv_loop_t loop;
	int result = -1;

	signal(SIGPIPE, SIG_IGN);
	if (uv_loop_init(&loop))
		return -1;
	s.loop = &loop;
	if (!start(&s, carrier)) {
		uv_run(&loop, UV_RUN_DEFAULT);
		result = 0;
	}
	end(&s);
	uv_run(&loop, UV_RUN_DEFAULT);
	if (s.ledger) {
		ledger_tell(s.ledger, NULL);
		refusals_end(s.refusals);
		if (!result)
			ledger_record(s.ledger, EVENT_STOPPED, "service", "service", NULL);
	}
	seal_free(s.seal);
	if (s.api)
		api_free(s.api);
	if (s.dispatch)
		dispatch_free(s.dispatch);
	arrive_free(s.arrive);
	refusals_free(s.refusals);
	ledger_free(s.ledger);
	vault_close(s.vault);
	for (size_t i = 0; i < s.machines; i++) {
		more_forget(&s.machine[i]);
		retry_forget(&s.machine[i]);
	}
	free(s.machine);
	uv_loop_close(&loop);
	return result;
}
