/* yoked: reads arguments. */
#include <errno.h>
#include <getopt.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include "conf.h"
#include "conf_first.h"
#include "mend.h"
#include "service.h"

static const char help[] =
    "usage: yoked --home DIR [--check-config]\n"
    "       yoked --home DIR --restore-vault FILE [--set-aside]\n"
    "       yoked --home DIR --repair-vault\n"
    "\n"
    "The service: watches DIR/programs, judges pairs, carries them, and keeps the trail.\n"
    "\n"
    "  --home DIR       everything lies below DIR: yoke.conf, machines/NAME.conf, programs/, "
    "vault/;\n"
    "                   a first start writes a commented configuration\n"
    "  --check-config   read the configuration, say everything that is wrong with it, and end\n"
    "  --restore-vault FILE   make the vault of a back-up (`yoke backup`) and end; refused while a\n"
    "                   service runs there, and when a vault is there already\n"
    "  --set-aside      with it: move the vault that is there aside first; nothing is deleted\n"
    "  --repair-vault   make the vault anew of what is left of a damaged one, say what is lost, and end;\n"
    "                   the damaged files are moved aside as they are\n"
    "  --carrier FILE   the carrier to start (default: yoke-carrier beside yoked)\n"
    "  --version        print the version and end\n"
    "\n"
    "Example: yoked --home /srv/yoke\n"
    "\n"
    "Exit status: 0 orderly end, or done; 1 failed, 2 wrong use or wrong configuration.\n";

/* The carrier is installed beside the service, or in the folder for programs that no person starts.
 */
static void find_carrier(char *out, size_t n)
{
	char self[PATH_MAX];
	ssize_t length = readlink("/proc/self/exe", self, sizeof(self) - 1);
	char *slash;

	if (length > 0) {
		self[length] = '\0';
		slash = strrchr(self, '/');
		if (slash) {
			*slash = '\0';
			if (snprintf(out, n, "%s/yoke-carrier", self) < (int)n &&
			    !access(out, X_OK))
				return;
		}
	}
	snprintf(out, n, "%s", YOKE_CARRIER);
}

static int run(const char *home, const char *carrier, int check)
{
	struct conf_report report = {0};
	struct text why = {0};
	struct conf conf;
	int failed;

	if (!check && conf_first_write(home, &why)) {
		fprintf(stderr, "yoked: %s\n",
		    why.s ? why.s : "the first configuration could not be written");
		text_free(&why);
		return 2;
	}
	failed = conf_read(home, &conf, &report);
	if (report.text.s)
		fputs(report.text.s, stderr);
	if (failed)
		fprintf(stderr, "yoked: the configuration is not usable: %zu error%s\n",
		    report.errors, report.errors == 1 ? "" : "s");
	else if (check)
		printf("yoked: the configuration is usable: %zu machine%s, %zu warning%s\n",
		    conf.machines, conf.machines == 1 ? "" : "s", report.warnings,
		    report.warnings == 1 ? "" : "s");
	conf_report_free(&report);
	if (!failed && !check)
		failed = service_run(&conf, carrier) ? 1 : 0;
	else if (failed)
		failed = 2;
	conf_free(&conf);
	return failed;
}

int main(int argc, char **argv)
{
	static const struct option options[] = {
	    {"home", required_argument, NULL, 'h'},
	    {"carrier", required_argument, NULL, 'c'},
	    {"check-config", no_argument, NULL, 'k'},
	    {"restore-vault", required_argument, NULL, 'r'},
	    {"set-aside", no_argument, NULL, 'a'},
	    {"repair-vault", no_argument, NULL, 'p'},
	    {"version", no_argument, NULL, 'v'},
	    {"help", no_argument, NULL, 'u'},
	    {NULL, 0, NULL, 0},
	};
	char carrier[PATH_MAX] = "", absolute[PATH_MAX];
	const char *home = NULL, *from = NULL;
	int check = 0, aside = 0, repair = 0, c;

	while ((c = getopt_long(argc, argv, "", options, NULL)) != -1)
		switch (c) {
		case 'h':
			home = optarg;
			break;
		case 'c':
			snprintf(carrier, sizeof(carrier), "%s", optarg);
			break;
		case 'k':
			check = 1;
			break;
		case 'r':
			from = optarg;
			break;
		case 'a':
			aside = 1;
			break;
		case 'p':
			repair = 1;
			break;
		case 'v':
			puts("yoked " YOKE_VERSION);
			return 0;
		case 'u':
			fputs(help, stdout);
			return 0;
		default:
			fputs(help, stderr);
			return 2;
		}
	if (!home || optind < argc || (aside && !from) || check + repair + !!from > 1) {
		fputs(help, stderr);
		return 2;
	}
	if (!check && mkdir(home, 0750) && errno != EEXIST) {
		perror(home);
		return 2;
	}
	if (!realpath(home, absolute)) {
		perror(home);
		return 2;
	}
	if (from)
		return mend_restore(absolute, from, aside);
	if (repair)
		return mend_repair(absolute);
	if (!*carrier)
		find_carrier(carrier, sizeof(carrier));
	return run(absolute, carrier, check);
}
