#include "settings.h"

#include <stdlib.h>
#include <unistd.h>
#include "conf.h"
#include "out.h"
#include "pair_files.h"

static int of_file(const char *file, struct profile *profile)
{
	struct conf_machine *m = calloc(1, sizeof(*m));
	int result = m ? pair_files_machine(file, m) : -1;

	if (result == 0)
		*profile = m->profile;
	free(m);
	return result;
}

int settings_profile(
    const char *home, const char *file, const char *machine, struct profile *profile)
{
	const char *environment = getenv("YOKE_HOME");
	static bool said;
	struct conf_report report = {0};
	const struct conf_machine *m;
	struct conf conf;
	int result = 0;

	if (file)
		return of_file(file, profile);
	if (!home)
		home = environment && *environment ? environment : "/var/lib/yoke";
	if (conf_read(home, &conf, &report) == 0) {
		m = machine && *machine ? conf_find(&conf, machine) : NULL;
		*profile = m ? m->profile : conf.profile;
	} else {
		profile_defaults(profile);
		if (!said)
			out_error("the settings in %s cannot be read: programs are read with the "
			          "defaults, also which codes are wait codes; name --machine FILE",
			    home);
		said = true;
		result = 1;
	}
	conf_free(&conf);
	conf_report_free(&report);
	return result;
}
