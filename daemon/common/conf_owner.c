#include "conf_owner.h"

#include <string.h>
#include "person.h"

const struct conf_owner *conf_owner_find(const struct conf_owners *all, uid_t uid)
{
	for (size_t i = 0; i < all->n; i++)
		if (all->owner[i].uid == uid)
			return &all->owner[i];
	return NULL;
}

void conf_owner_add(struct conf_owners *all, const char *path, const struct conf_entry *e,
    struct conf_report *report)
{
	struct conf_owner o = {0};

	if (strlen(e->key) >= sizeof(o.account) || !person_uid(e->key, &o.uid)) {
		conf_report_error(report, path, e->line,
		    "this computer knows no user '%.80s': correct the name, or write the account's "
		    "number",
		    e->key);
		return;
	}
	if (!*e->value || strlen(e->value) >= sizeof(o.server) || strpbrk(e->value, "()")) {
		conf_report_error(report, path, e->line,
		    "%s: what the file server is called is needed, 1 to %zu bytes without "
		    "parentheses",
		    e->key, sizeof(o.server) - 1);
		return;
	}
	if (conf_owner_find(all, o.uid)) {
		conf_report_error(report, path, e->line, "%s: uid %u stands twice in [owners]",
		    e->key, o.uid);
		return;
	}
	if (all->n == CONF_OWNERS_MAX) {
		conf_report_error(
		    report, path, e->line, "more than %d accounts in [owners]", CONF_OWNERS_MAX);
		return;
	}
	strcpy(o.account, e->key);
	strcpy(o.server, e->value);
	all->owner[all->n++] = o;
}
