#include "port_find.h"

#include <string.h>

/* Add what is there, each as it would be written. */
static void add_present(struct fault *f, const struct port_list *l)
{
	if (!l->n)
		fault_add(f, "; no serial port is present");
	for (size_t i = 0; i < l->n; i++) {
		struct text t = {0};

		port_list_identity(l, i, &t);
		fault_add(f, "%s%s%s%s%s", i ? ", " : "; present: ", l->v[i].name,
		    t.s && *t.s ? " (" : "", t.s ? t.s : "", t.s && *t.s ? ")" : "");
		text_free(&t);
	}
}

static int none(const struct port_list *l, const struct port_address *a, const char *address,
    uint32_t item, struct fault *f)
{
	const char *why = a->kind == PORT_ADDRESS_PATH
	                      ? "no adapter is plugged in there, or it was moved"
	                      : "it is not plugged in, or this computer does not know it";

	if (f->error != CARRY_ERROR_NONE)
		return -1;
	fault_set(f, CARRY_ERROR_OFFLINE, item, "the port %s is not there: %s", address, why);
	add_present(f, l);
	return -1;
}

static int several(const struct port_list *l, const struct port_address *a, const char *address,
    uint32_t item, struct fault *f)
{
	const char *with = "";

	if (f->error != CARRY_ERROR_NONE)
		return -1;
	fault_set(f, CARRY_ERROR_ORDER, item, "several ports answer to %s:", address);
	for (size_t i = 0; i < l->n; i++) {
		if (!port_list_is(&l->v[i], a))
			continue;
		fault_add(f, "%s %s at path:%s", with, l->v[i].name, l->v[i].path);
		with = " and";
	}
	fault_add(f, "; write the path of the one that is meant");
	return -1;
}

int port_find(
    const char *sys, const char *address, uint32_t item, struct port *found, struct fault *f)
{
	struct port_address a;
	struct port_list l;
	size_t n = 0;
	int rc;

	if (!port_address_read(address, &a)) {
		struct text advice = {0};

		port_address_advise(address, &advice);
		fault_set(f, CARRY_ERROR_ORDER, item, "the address '%s' names no port: %s", address,
		    advice.s ? advice.s : "not understood");
		text_free(&advice);
		return -1;
	}
	rc = port_list_read(sys, &l);
	if (rc) {
		fault_errno(f, -rc, item, "the ports of this computer cannot be listed");
		goto out;
	}
	for (size_t i = 0; i < l.n; i++)
		if (port_list_is(&l.v[i], &a) && !n++)
			*found = l.v[i];
	if (n == 0)
		rc = none(&l, &a, address, item, f);
	else if (n > 1)
		rc = several(&l, &a, address, item, f);
out:
	port_list_free(&l);
	return rc ? -1 : 0;
}
