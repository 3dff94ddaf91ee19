/*
 * Goal: what an administrator writes is what the service uses, and every error of every file is
 * told with file, line, what, why and what is allowed. Defaults are those of the contracts in
 * include/yoke.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include "conf_case.h"
#include "conf_file.h"
#include "conf_first.h"
#include "conf_line.h"

static void test_defaults(void **state)
{
	read_home(state, "", "", NULL);
	assert_int_equal(report.errors + report.warnings, 0);
	assert_string_equal(conf.programs, scratch_path(state, "programs"));
	assert_string_equal(conf.socket, scratch_path(state, "yoke.sock"));
	assert_int_equal(conf.watch, CONF_WATCH_EVENTS);
	assert_int_equal(conf.incomplete_s, 60);
	assert_int_equal(conf.trail.events, 100);
	assert_int_equal(conf.trail.seconds, 900);
	assert_string_equal(conf.trail.to, "");
	assert_string_equal(conf.trail.key + strlen("file:"), scratch_path(state, "seal.key"));
	assert_int_equal(conf.machines, 1);
	assert_string_equal(conf.machine[0].name, "one");
	assert_string_equal(conf.machine[0].title, "one");
	assert_string_equal(conf.machine[0].profile.name, "one");
	assert_int_equal(conf.machine[0].on_release, CONF_RELEASE_WAIT);
	assert_int_equal(conf.machine[0].line[0].kind, LINE_NONE);
	assert_ptr_equal(conf_find(&conf, "one"), &conf.machine[0]);
	assert_null(conf_find(&conf, "two"));
}

static void test_yoke(void **state)
{
	read_home(state,
	    "[yoke]\nprograms = /srv/nc\nsocket = run/api\nwatch = poll\npoll_ms = 100\nsettle_ms "
	    "= 0\n"
	    "incomplete_s = 86400\n[programs]\nnames = {job}_{rev}_{channel}.mpf\nnumber_from_job "
	    "= yes\n",
	    "[programs]\nnumber_from_job = no\n", "");
	assert_int_equal(report.errors, 0);
	assert_string_equal(conf.programs, "/srv/nc");
	assert_string_equal(conf.socket, scratch_path(state, "run/api"));
	assert_int_equal(conf.watch, CONF_WATCH_POLL);
	assert_int_equal(conf.poll_ms, 100);
	assert_int_equal(conf.settle_ms, 0);
	assert_int_equal(conf.incomplete_s, 86400);
	assert_true(conf.profile.number_from_job);
	assert_false(conf.machine[0].profile.number_from_job);
	assert_true(conf.machine[1].profile.number_from_job);
	assert_string_equal(conf.machine[0].profile.names, "{job}_{rev}_{channel}.mpf");
}

/* Places of checkpoints and of the key that signs them. */
static void test_trail(void **state)
{
	static const char *const good[] = {"file:/mnt/office/trail", "syslog:", "http://192.0.2.20:8080/a?b=c",
	    "https://log.shop.example/trail"};
	static const char *const bad[] = {"/mnt/office/trail", "file:", "file:/", "file:trail", "file:/mnt/",
	    "syslog", "syslog:x", "http://", "http:///x", "https://a b", "ftp://192.0.2.20/x"};
	char text[200], want[200];

	for (size_t i = 0; i < sizeof(good) / sizeof(good[0]); i++) {
		snprintf(text, sizeof(text),
		    "[yoke]\ncheckpoint_to = %s\ncheckpoint_events = 1\ncheckpoint_s = 86400\n"
		    "seal_key = credential:seal\n",
		    good[i]);
		read_home(state, text, NULL, NULL);
		assert_int_equal(report.errors, 0);
		assert_string_equal(conf.trail.to, good[i]);
		assert_int_equal(conf.trail.events, 1);
		assert_int_equal(conf.trail.seconds, 86400);
		assert_string_equal(conf.trail.key, "credential:seal");
	}
	for (size_t i = 0; i < sizeof(bad) / sizeof(bad[0]); i++) {
		snprintf(text, sizeof(text), "[yoke]\ncheckpoint_to = %s\n", bad[i]);
		read_home(state, text, NULL, NULL);
		snprintf(want, sizeof(want), "yoke.conf: error: checkpoint_to = '%s': ", bad[i]);
		expect(want);
		assert_int_equal(report.errors, 1);
	}
	read_home(state, "[yoke]\ncheckpoint_events = 0\ncheckpoint_s = 0\nseal_key = seal.key\n", NULL, NULL);
	expect("yoke.conf:2: error: checkpoint_events = '0'");
	expect("yoke.conf:3: error: checkpoint_s = '0'");
	expect("yoke.conf: error: seal_key = 'seal.key': credential:NAME or file:/PATH is needed");
	assert_int_equal(report.errors, 3);
}

static void test_yoke_errors(void **state)
{
	read_home(state,
	    "[yoke]\nsettle = 1\nwatch = always\npoll_ms = 99\nincomplete_s = 1x\nsettle_ms = -1\n"
	    "[yok]\na = 1\n[programs]\nnmaes = {job}\nnames = {jobb}\n[waits]\ncodes = M200\n",
	    "[machine]\non_release = later\n", NULL);
	expect("yoke.conf:2: error: unknown key 'settle' in [yoke]; did you mean 'settle_ms'?");
	expect("yoke.conf:3: error: watch = 'always': events or poll is allowed");
	expect("yoke.conf:4: error: poll_ms = '99': a whole number of milliseconds from 100 to "
	       "3600000");
	expect("yoke.conf:5: error: incomplete_s = '1x'");
	expect("yoke.conf:6: error: settle_ms = '-1'");
	expect("yoke.conf:8: error: unknown section [yok]; did you mean 'yoke'?");
	expect("yoke.conf:10: error: unknown key 'nmaes' in [programs]; did you mean 'names'?");
	expect("yoke.conf:11: error: ");
	expect("yoke.conf:13: error: unknown section [waits]; did you mean 'wait'?");
	expect("machines/one.conf:2: error: on_release = 'later': wait or carry is allowed");
	assert_int_equal(report.errors, 10);
}

static void test_home_missing(void **state)
{
	conf_free(&conf);
	conf_report_free(&report);
	assert_int_equal(conf_read(scratch_path(state, "nowhere"), &conf, &report), -1);
	expect("nowhere/yoke.conf: error: cannot be opened: No such file");
	expect("nowhere/machines: error: cannot be listed: No such file");
	conf_free(&conf);
	assert_int_equal(conf_read("", &conf, &report), -1);
}

/* A path that bind() would refuse is told when it is read. sun_path has 108 bytes (unix(7)). */
static void test_socket_long(void **state)
{
	char yoke[300];

	snprintf(yoke, sizeof(yoke), "[yoke]\nsocket = /%0107d\n", 0);
	read_home(state, yoke, NULL, NULL);
	expect("socket is the path");
	snprintf(yoke, sizeof(yoke), "[yoke]\nsocket = /%0106d\n", 0);
	read_home(state, yoke, NULL, NULL);
	assert_int_equal(report.errors, 0);
}

static void test_serial_defaults(void **state)
{
	const struct line_serial *s = &machine.line[1].serial;

	read_machine(state, "[line]\nkind = serial\naddress = tcp://gate:4001\n", 0);
	assert_int_equal(machine.line[1].kind, LINE_SERIAL);
	assert_string_equal(machine.line[1].name, "O{number}");
	assert_string_equal(s->address, "tcp://gate:4001");
	assert_int_equal(s->baud, 9600);
	assert_int_equal(s->framing, LINE_7E2);
	assert_int_equal(s->code, LINE_CODE_ISO);
	assert_int_equal(s->eob, LINE_EOB_LF);
	assert_int_equal(s->read_back, LINE_READ_BACK_NONE);
	assert_true(s->wait_dc1);
	assert_false(s->dc2_dc4);
	assert_int_equal(s->drip, LINE_DRIP_NO);
	assert_false(s->patient);
	assert_int_equal(s->reserve, 64);
	assert_int_equal(s->open_ms, 10000);
	assert_int_equal(s->first_ms, 0);
	assert_int_equal(s->stall_ms, 30000);
	assert_int_equal(s->total_ms, 0);
}

static void test_serial_all(void **state)
{
	const struct line_serial *s = &machine.line[0].serial;

	read_machine(state,
	    "[machine]\ntitle = the one at the window\non_release = carry\n"
	    "[line upper]\naddress = tcp://[::1]:65535\nname = P1-{number}\n"
	    "[line]\nkind = serial\naddress = port:ttyS0\nbaud = 4800\nframing = 8N1\ncode = "
	    "ascii\n"
	    "eob = lfcrcr\nread_back = punch\nwait_dc1 = no\ndc2_dc4 = yes\nleader = 100\ntrailer "
	    "= 1\n"
	    "char_pause = 4\nblock_pause = 5\nreserve = 200\nopen_ms = 1\nfirst_ms = 3\nstall_ms = "
	    "400\ntotal_ms = "
	    "5\n"
	    "read_back_ms = 600\nsilence_ms = 700\nflow = both\n"
	    "[line lower]\nflow = dtrdsr\nwatch = dcd\n",
	    0);
	assert_string_equal(machine.title, "the one at the window");
	assert_int_equal(machine.on_release, CONF_RELEASE_CARRY);
	assert_string_equal(s->address, "tcp://[::1]:65535");
	assert_string_equal(machine.line[0].name, "P1-{number}");
	assert_string_equal(machine.line[1].serial.address, "port:ttyS0");
	assert_string_equal(machine.line[1].name, "O{number}");
	assert_int_equal(s->baud, 4800);
	assert_int_equal(s->framing, LINE_8N1);
	assert_int_equal(s->code, LINE_CODE_ASCII);
	assert_int_equal(s->eob, LINE_EOB_LFCRCR);
	assert_int_equal(s->read_back, LINE_READ_BACK_PUNCH);
	assert_false(s->wait_dc1);
	assert_true(s->dc2_dc4);
	assert_int_equal(s->leader, 100);
	assert_int_equal(s->trailer, 1);
	assert_int_equal(s->char_pause, 4);
	assert_int_equal(s->block_pause, 5);
	assert_int_equal(s->reserve, 200);
	assert_int_equal(s->open_ms, 1);
	assert_int_equal(s->first_ms, 3);
	assert_int_equal(s->stall_ms, 400);
	assert_int_equal(s->total_ms, 5);
	assert_int_equal(s->read_back_ms, 600);
	assert_int_equal(s->silence_ms, 700);
	assert_int_equal(s->flow, LINE_FLOW_BOTH);
	assert_int_equal(s->watch, LINE_WATCH_NONE);
	assert_int_equal(machine.line[1].serial.flow, LINE_FLOW_DTRDSR);
	assert_int_equal(machine.line[1].serial.watch, LINE_WATCH_DCD);
}

/* A local port is named by what stays the same; the refusal says what to write instead. */
static void test_local_ports(void **state)
{
	static const char *const good[] = {"usb:A1B2C3", "usb:0403:6001:A1B2C3",
	    "path:pci-0000:00:14.0-usb-0:1.2:1.0-port0", "port:ttyS0", "port:ttyAMA0",
	    "rfc2217://gate:4001", "rfc2217://[::1]:1"};
	static const struct {
		const char *address, *says;
	} wrong[] = {
	    {"/dev/ttyUSB0", "the name ttyUSB0 goes to whichever adapter was found first"},
	    {"/dev/ttyUSB0", "write usb:SERIAL or path:WHERE, 'yoke ports' shows both"},
	    {"port:ttyACM1", "the name ttyACM1 goes to whichever"},
	    {"/dev/ttyS0", "written as port:ttyS0"},
	    {"/dev/serial/by-path/pci-1", "write it as path:pci-1"},
	    {"/dev/serial/by-id/usb-x", "write usb:SERIAL"},
	    {"usb:", "usb:VID:PID:SERIAL"},
	    {"usb:0403:6001:", "usb:VID:PID:SERIAL"},
	    {"ttyS0", "'yoke ports' shows the ports"},
	    {"rfc2217://gate", "HOST:PORT with a port from 1 to 65535"},
	    {"rfc2217://gate:0", "HOST:PORT with a port from 1 to 65535"},
	    {"rfc2217://:1", "HOST:PORT with a port from 1 to 65535"},
	};
	char text[256];

	for (size_t i = 0; i < sizeof good / sizeof *good; i++) {
		snprintf(text, sizeof text, "[line]\nkind = serial\naddress = %s\n", good[i]);
		read_machine(state, text, 0);
		assert_string_equal(machine.line[0].serial.address, good[i]);
	}
	for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
		snprintf(
		    text, sizeof text, "[line]\nkind = serial\naddress = %s\n", wrong[i].address);
		read_machine(state, text, 1);
		expect(wrong[i].says);
	}
	read_machine(state, "[line]\nkind = serial\naddress = tcp://h:1\nwatch = dsr\n", 1);
	expect("LATHE-1.conf:4: error: channel upper: watch needs a local port");
	read_machine(
	    state, "[line]\nkind = serial\naddress = port:ttyS0\nwatch = dsr\nflow = dtrdsr\n", 1);
	expect("LATHE-1.conf:4: error: channel upper: with flow = dtrdsr");
}

#define SERIAL "[line]\nkind = serial\naddress = port:ttyS0\n"

/* The defaults and what may be set: EIA RS-244-A, see wire/eia.h. */
static void test_eia(void **state)
{
	static const char *const wrong[] = {"", "ER", "ER 0B,", "ER 0B 0C", "ER, TAB 3E", "XX 0B",
	    "ER B", "ER 00", "ER 0G", ", ER 0B"};
	static const char *const bauds[] = {"110", "230400", "460800", "921600"};
	static const uint32_t rates[] = {110, 230400, 460800, 921600};
	const struct line_serial *s = &machine.line[0].serial;
	char content[200];

	read_machine(state,
	    SERIAL "framing = 8n2\ncode = EIA\neia = er 5B,TAB 3e , & none, # 4C, [ 6D\n"
	           "[line lower]\neia = UC 4F\n",
	    0);
	assert_int_equal(report.warnings, 0);
	assert_int_equal(s->code, LINE_CODE_EIA);
	assert_int_equal(s->eia[LINE_EIA_ER], 0x5B);
	assert_int_equal(s->eia[LINE_EIA_TAB], 0x3E);
	assert_int_equal(s->eia[LINE_EIA_AND], LINE_EIA_NONE);
	assert_int_equal(s->eia[LINE_EIA_HASH], 0x4C);
	assert_int_equal(s->eia[LINE_EIA_LEFT], 0x6D);
	assert_int_equal(s->eia[LINE_EIA_UC], 0);
	assert_int_equal(machine.line[1].serial.eia[LINE_EIA_UC], 0x4F);
	assert_int_equal(machine.line[1].serial.eia[LINE_EIA_ER], 0);
	for (size_t i = 0; i < 4; i++) {
		snprintf(content, sizeof(content), SERIAL "baud = %s\n", bauds[i]);
		read_machine(state, content, 0);
		assert_int_equal(s->baud, rates[i]);
	}
	read_machine(state, SERIAL "code = eia\n", 1);
	expect("LATHE-1.conf:4: error: channel upper: code = eia needs 8 bits");
	read_machine(state, SERIAL "code = eia\nframing = 8n1\neob = crlf\n", 0);
	expect("LATHE-1.conf:6: warning: channel upper: EIA has one end of block");
	read_machine(state, SERIAL "eia = ER 33\n", 1);
	expect("LATHE-1.conf:4: error: eia = 'ER 33': ER: its code has an even number of holes");
	read_machine(state, SERIAL "eia = TAB 61\n", 1);
	expect("TAB: another character has its code");
	read_machine(state, SERIAL "eia = LC 5B, ER 5B\n", 1);
	for (size_t i = 0; i < sizeof(wrong) / sizeof(wrong[0]); i++) {
		snprintf(content, sizeof(content), SERIAL "eia = %s\n", wrong[i]);
		read_machine(state, content, 1);
		expect("a name and its code, such as ER 0B, are allowed");
	}
}

static void test_directory(void **state)
{
	read_machine(state,
	    "[line]\nkind = directory\nroot = /srv/lathe\nmarker = .here\n[line UP]\nfolder = "
	    "path1\n"
	    "[line lower]\nfolder = path2/sub\nname = {job}.LO\n",
	    0);
	assert_int_equal(report.warnings, 0);
	assert_string_equal(machine.line[0].directory.folder, "path1");
	assert_string_equal(machine.line[1].directory.folder, "path2/sub");
	assert_string_equal(machine.line[0].directory.marker, ".here");
	assert_string_equal(machine.line[0].name, "{job}_{channel}.NC");
	assert_string_equal(machine.line[1].name, "{job}.LO");
	assert_int_equal(machine.line[0].directory.total_ms, 120000);
}

static void test_line_errors(void **state)
{
	read_machine(state, "[line]\nbaud = 9600\n", 1);
	expect("LATHE-1.conf:2: error: [line] does not say its kind");
	read_machine(state, "[line upper]\nbaud = 9600\n", 1);
	expect("does not say its kind");
	read_machine(state, "[line]\nkind = serial\n", 1);
	expect("channel upper: a serial line needs an address");
	read_machine(state, "[line]\nkind = serial\naddress = tcp://h:65536\n", 1);
	expect("LATHE-1.conf:3: error: address = 'tcp://h:65536'");
	read_machine(state, "[line]\nkind = serial\naddress = ttyS0\n", 1);
	read_machine(state, "[line]\nkind = serial\naddress = tcp://:4001\n", 1);
	read_machine(state,
	    "[line]\nkind = serial\naddress = port:x\nbaud = 9601\nroot = /a\nbuad = 1\n", 3);
	expect("baud = '9601': 110, 300,");
	expect("'root' belongs to a line of kind directory, this line is of kind serial");
	expect("unknown key 'buad' in [line]; did you mean 'baud'?");
	read_machine(state, "[line]\nkind = directory\n", 1);
	expect("channel upper: a directory line needs root");
	read_machine(state, "[line]\nkind = directory\nroot = srv/lathe\n", 1);
	expect("LATHE-1.conf:3: error: root = 'srv/lathe': an absolute path is needed");
	read_machine(state, "[line]\nkind = directory\nroot = /srv/../etc\n", 1);
	read_machine(state, "[line]\nkind = directory\nroot = /srv\nfolder = a/../../b\n", 1);
	expect("folder = 'a/../../b': a path below root");
	read_machine(state, "[line]\nkind = directory\nroot = /srv\nmarker = a/b\n", 1);
	read_machine(state, "[line]\nkind = directory\nroot = /srv\nname = {job}\n", 1);
	expect("channels upper and lower would be written to the same file");
	read_machine(state, "[line]\nkind = directory\nroot = /srv\nname = ../{job}{channel}\n", 1);
	read_machine(state, "[line]\nkind = directory\nroot = /srv\nname = {jb}{channel}\n", 1);
	read_machine(state, "[line]\nkind = directory\nroot = /srv\nname = fixed.{channel}\n", 1);
	read_machine(state, "[line]\nkind = directory\nroot = /srv\n[line uper]\nfolder = a\n", 1);
	expect("LATHE-1.conf:5: error: unknown section [line uper]");
	read_machine(
	    state, "[line]\nkind = directory\nroot = /srv\n[line upper]\nkind = serial\n", 1);
	expect("'kind' is set in [line] alone");
}

static void test_profile(void **state)
{
	read_machine(state,
	    "[channel main]\naliases = M1\n[line sub]\nfolder = s\n"
	    "[line]\nkind = directory\nroot = /srv\n[wait]\ncodes = M100-M197\n"
	    "[weights]\npoint-missing = refuse\n[programs]\nchannels = main, sub, third\n",
	    0);
	assert_int_equal(machine.profile.channels, 3);
	assert_string_equal(machine.line[1].directory.folder, "s");
	assert_string_equal(machine.line[2].directory.folder, "");
	assert_true(profile_is_wait(&machine.profile, 197));
	assert_false(profile_is_wait(&machine.profile, 200));
	assert_int_equal(machine.profile.weight[FINDING_POINT_MISSING], WEIGHT_REFUSE);
	read_machine(
	    state, "[weights]\npoint-mising = refuse\nsize = heavy\n[limits]\nblok_max = 1\n", 3);
	expect("LATHE-1.conf:2: error: unknown key 'point-mising' in [weights]; did you mean "
	       "'point-missing'?");
	expect("LATHE-1.conf:3: error: size = heavy");
	expect("did you mean 'block_max'?");
}

/* The sections that came with dialects, in any order with the channels. */
static void test_profile_dialect(void **state)
{
	read_machine(state,
	    "[codes]\nM10 = clamping: chuck closed ; both sides\nM88 = coolant through\n"
	    "[channel third]\ndiameter = no\nrapid = 30000\n"
	    "[values]\nfix = down\nlogic = sum\ntruth = whole\nincrement = 0.01\n"
	    "[wait]\ncodes = none\ncall = MEET({code},{channels})\nsend = M400-M404\n"
	    "receive = M410-M414\npartners = P mask\n"
	    "[programs]\nchannels = upper, lower, third\nseparator = $ {channel}\n",
	    0);
	assert_int_equal(machine.profile.codes, 2);
	assert_string_equal(machine.profile.code[0].group, "clamping");
	assert_string_equal(machine.profile.code[0].text, "chuck closed");
	assert_false(machine.profile.channel[2].diameter);
	assert_true(machine.profile.channel[2].rapid == 30000);
	assert_int_equal(machine.profile.fix, PROFILE_FIX_DOWN);
	assert_true(machine.profile.increment == 0.01);
	assert_string_equal(machine.profile.wait_call, "MEET");
	assert_int_equal(machine.profile.partners, PROFILE_PARTNERS_MASK);
	assert_string_equal(machine.profile.separator, "$ {channel}");
	read_machine(state,
	    "[value]\nfix = down\n[values]\nfx = down\ntruth = yes\n[code]\nM10 = a: b\n"
	    "[codes]\ncoolant = M8\n[channel upper]\nrapd = 1\n[wait]\nsend = M400\n",
	    7);
	expect("LATHE-1.conf:2: error: unknown section [value]; did you mean 'values'?");
	expect("LATHE-1.conf:4: error: unknown key 'fx' in [values]; did you mean 'fix'?");
	expect("LATHE-1.conf:5: error: truth = yes: allowed are unknown, whole and bits");
	expect("LATHE-1.conf:7: error: unknown section [code]; did you mean 'codes'?");
	expect("LATHE-1.conf:9: error: coolant = M8: the key is no M code; allowed are keys such "
	       "as M10");
	expect("LATHE-1.conf:11: error: unknown key 'rapd' in [channel upper]; did you mean "
	       "'rapid'?");
	expect("LATHE-1.conf: error: send has 1 code and receive 0");
}

/* Every key that spelling help offers must be one that the profile takes. */
static void test_offered_keys(void **state)
{
	char *list;

	read_machine(state,
	    "[limits]\nx_____ = 1\n[wait]\nx_____ = 1\n[programs]\nx_____ = 1\n"
	    "[values]\nx_____ = 1\n[channel upper]\nx_____ = 1\n",
	    5);
	for (list = strstr(report.text.s, "Allowed: "); list;
	     list = strstr(list + 1, "Allowed: ")) {
		static const char *const sections[] = {
		    "limits", "wait", "programs", "values", "channel upper"};
		char names[400];

		snprintf(names, sizeof(names), "%.*s", (int)strcspn(list + 9, "\n"), list + 9);
		for (char *s = strtok(names, ", "); s; s = strtok(NULL, ", ")) {
			struct profile p;
			struct text why = {0};
			bool known = strcmp(s, "or") == 0;

			profile_defaults(&p);
			for (int i = 0; i < 5; i++)
				known |=
				    profile_set(&p, sections[i], s, "?", &why) != PROFILE_UNKNOWN;
			text_free(&why);
			if (!known)
				fail_msg("offered, but not taken: %s", s);
		}
	}
}

static void test_names(void **state)
{
	struct profile shop;

	profile_defaults(&shop);
	conf_report_free(&report);
	conf_machine_read(scratch_file(state, "lathe 1.conf", ""), &shop, &machine, &report);
	expect("the machine's name comes from the file name");
	assert_true(conf_machine_name_ok("LATHE_2-a"));
	assert_false(conf_machine_name_ok(""));
	assert_false(conf_machine_name_ok("a.b"));
	assert_false(conf_machine_name_ok("../a"));
	assert_false(conf_machine_name_ok("-a"));
	assert_true(conf_machine_name_ok(
	    "aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa"));
	assert_false(conf_machine_name_ok(
	    "aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa"));
}

static char *slurp(const char *path)
{
	char *s = calloc(1, 20000);
	FILE *f = fopen(path, "r");

	assert_non_null(s);
	assert_non_null(f);
	assert_true(fread(s, 1, 19999, f) > 100);
	fclose(f);
	return s;
}

/* The first configuration is read without a word, and shows the defaults that hold. */
static void test_first(void **state)
{
	struct text why = {0};
	char *s, *lines = NULL;
	const char *home;

	home = scratch_path(state, "home");
	assert_int_equal(conf_first_write(home, &why), 0);
	conf_free(&conf);
	conf_report_free(&report);
	assert_int_equal(conf_read(home, &conf, &report), 0);
	assert_int_equal(report.warnings, 0);
	assert_int_equal(conf.machines, 0);
	s = slurp(scratch_path(state, "home/machines/EXAMPLE.conf.sample"));
	read_machine(state, s, 0);
	free(s);
	/* yoke.conf with its defaults no longer commented out is the same configuration */
	s = slurp(scratch_path(state, "home/yoke.conf"));
	for (lines = strstr(s, "\n# "); lines; lines = strstr(lines + 1, "\n# "))
		if (strchr("abcdefghijklmnopqrstuvwxyz", lines[3]) &&
		    strstr(lines + 3, " = ") ==
		        lines + 3 + strspn(lines + 3, "abcdefghijklmnopqrstuvwxyz_"))
			lines[1] = lines[2] = ' ';
	read_home(state, s, NULL, NULL);
	free(s);
	assert_int_equal(report.errors, 0);
	assert_int_equal(conf.settle_ms, 1000);
}

static void test_first_keeps(void **state)
{
	struct text why = {0};
	char *s;

	mkdir(scratch_path(state, "home"), 0755);
	scratch_file(state, "home/yoke.conf", "[yoke]\nsettle_ms = 7\n");
	assert_int_equal(conf_first_write(scratch_path(state, "home"), &why), 0);
	s = calloc(1, 100);
	assert_non_null(s);
	FILE *f = fopen(scratch_path(state, "home/yoke.conf"), "r");

	assert_non_null(f);
	assert_true(fread(s, 1, 99, f) > 0);
	fclose(f);
	assert_string_equal(s, "[yoke]\nsettle_ms = 7\n");
	free(s);
	assert_int_equal(conf_first_write(scratch_path(state, "home/yoke.conf"), &why), -1);
	assert_non_null(strstr(why.s, "cannot be made: Not a directory"));
	text_free(&why);
	assert_int_equal(conf_first_write(scratch_path(state, "no/where"), &why), -1);
	text_free(&why);
}

static int finish(void **state)
{
	conf_free(&conf);
	conf_report_free(&report);
	return 0;
}

#define TEST(f) cmocka_unit_test_setup_teardown(f, scratch_setup, scratch_teardown)

int main(void)
{
	const struct CMUnitTest tests[] = {
	    TEST(test_defaults),
	    TEST(test_yoke),
	    TEST(test_trail),
	    TEST(test_yoke_errors),
	    TEST(test_home_missing),
	    TEST(test_socket_long),
	    TEST(test_serial_defaults),
	    TEST(test_serial_all),
	    TEST(test_local_ports),
	    TEST(test_eia),
	    TEST(test_directory),
	    TEST(test_line_errors),
	    TEST(test_profile),
	    TEST(test_profile_dialect),
	    TEST(test_offered_keys),
	    TEST(test_names),
	    TEST(test_first),
	    TEST(test_first_keeps),
	};

	return cmocka_run_group_tests(tests, NULL, finish);
}
