/* The text of the files that a first start writes. Only conf_first.c includes this. */
#ifndef CONF_FIRST_TEXT_H
#define CONF_FIRST_TEXT_H

#define CONF_FIRST_YOKE                                                                            \
	"# Yoke's configuration. Lines that begin with # are comments; the settings that are "     \
	"commented\n"                                                                              \
	"# out show their defaults. 'yoked --check-config' names file and line of every error.\n"  \
	"# A comment after a value begins with blank and semicolon.\n"                             \
	"\n"                                                                                       \
	"[yoke]\n"                                                                                 \
	"# The folder in which programs are dropped, absolute or below home. Programs for one "    \
	"machine go\n"                                                                             \
	"# into the folder of its name below: programs/NAME/.\n"                                   \
	"# programs = programs\n"                                                                  \
	"# The socket at which the command and the board ask, absolute or below home.\n"           \
	"# socket = yoke.sock\n"                                                                   \
	"# events: the kernel tells of new files. poll: look every poll_ms; for mounted shares.\n" \
	"# watch = events\n"                                                                       \
	"# poll_ms = 2000\n"                                                                       \
	"# A file is settled when it has not changed for so long.\n"                               \
	"# settle_ms = 1000\n"                                                                     \
	"# A file that stays incomplete (no closing %, no program end) for so long is told as "    \
	"cut off.\n"                                                                               \
	"# incomplete_s = 60\n"                                                                    \
	"# When the disk of the vault has less left, in megabytes, that is told. 0: never.\n"      \
	"# room_warn_mb = 500\n"                                                                   \
	"# The trail is signed after so many entries, and so many seconds after one that was not " \
	"signed\n"                                                                                 \
	"# yet; at each start and stop too.\n"                                                     \
	"# checkpoint_events = 100\n"                                                              \
	"# checkpoint_s = 900\n"                                                                   \
	"# A second place for what was signed, on another computer's disk: who cuts or rewrites "  \
	"the trail\n"                                                                              \
	"# here is found there. file:/PATH, syslog:, http://... or https://...\n"                  \
	"# checkpoint_to =\n"                                                                      \
	"# Where the key that signs lies: file:/PATH or credential:NAME; without it seal.key below "\
	"home.\n"                                                                                  \
	"# seal_key =\n"                                                                           \
	"\n"                                                                                       \
	"# Who calls from a machine's keyboard: the badge, and the person's login or name. A badge "\
	"is no\n"                                                                                  \
	"# password: whoever reads a call at the control can write the same.\n"                    \
	"[badges]\n"                                                                               \
	"# 17 = anna\n"                                                                            \
	"\n"                                                                                       \
	"# Who may do what: each duty for groups of this computer, by name or number; all: everybody who may\n" \
	"# open the socket; nothing: only root and the service's own user, who may everything in any case.\n" \
	"[duties]\n"                                                                               \
	"# Ask what is there, read programs and the trail.\n"                                      \
	"# look = all\n"                                                                           \
	"# Send, restore, fetch, drip, sticks, the queue.\n"                                       \
	"# carry = all\n"                                                                          \
	"# Say that a pair made a good part.\n"                                                    \
	"# prove = all\n"                                                                          \
	"# Drop programs that need nobody else; withdraw pairs.\n"                                 \
	"# release = all\n"                                                                        \
	"# Accept a pair as the second person, or despite a rule. When it is not given: as release.\n" \
	"# release-again = all\n"                                                                  \
	"# Lock and unlock machines, and what belongs to the service itself.\n"                    \
	"# keep = all\n"                                                                           \
	"\n"                                                                                       \
	"# Accounts of this computer behind which a file server hides who wrote a file: name or number of the\n" \
	"# account, and what the server is called. A program of such an owner comes from nobody in particular.\n" \
	"[owners]\n"                                                                               \
	"# 990 = the office's file server\n"                                                       \
	"\n"                                                                                       \
	"# What follows holds for the whole shop; a machine's file may set each of it "            \
	"otherwise.\n"                                                                             \
	"[programs]\n"                                                                             \
	"# How file names and header comments tell job, revision and channel.\n"                   \
	"# names = {job}-{rev}.{channel}.nc\n"                                                     \
	"# header = (JOB {job} REV {rev} {channel})\n"                                             \
	"# The channels' names, in order; 2 to 4.\n"                                               \
	"# channels = upper, lower\n"                                                              \
	"# yes: the program number (O) must be the job's digits.\n"                                \
	"# number_from_job = no\n"                                                                 \
	"# Programs that live in the control, may be called and hold no wait code, such as "       \
	"O9000-O9999.\n"                                                                           \
	"# resident =\n"                                                                           \
	"# How the block looks that gives those behind it to a channel, in a file that holds "     \
	"several, such as $ {channel}.\n"                                                          \
	"# separator =\n"                                                                          \
	"\n"                                                                                       \
	"# yes: a pair waits until a second person, who dropped none of it, accepts it ('yoke accept').\n" \
	"[release]\n"                                                                              \
	"# two_person = no\n"                                                                      \
	"# Rules that nobody may accept a pair despite, beside what proves that wait codes disagree.\n" \
	"# absolute =\n"

#define CONF_FIRST_MACHINE                                                                         \
	"# An example of a machine. Copy it to NAME.conf: the file's name is the machine's "       \
	"name.\n"                                                                                  \
	"# The settings that are commented out show their defaults.\n"                             \
	"\n"                                                                                       \
	"[machine]\n"                                                                              \
	"# title = twin-spindle lathe at the window\n"                                             \
	"# wait: a released pair waits until somebody sends it. carry: the service carries it by " \
	"itself.\n"                                                                                \
	"# on_release = wait\n"                                                                    \
	"# Seconds that an order to its share is tried again, when what stopped it can pass "       \
	"(not reachable,\n"                                                                        \
	"# busy, running) and nothing was changed.\n"                                              \
	"# retry_s = 600\n"                                                                        \
	"# Seconds between two looks at its share: what was changed at the machine is told as "     \
	"drift. 0: none.\n"                                                                        \
	"# look_s = 0\n"                                                                           \
	"\n"                                                                                       \
	"# How the programs get into the control. Either a mounted share or local directory:\n"    \
	"[line]\n"                                                                                 \
	"kind = directory\n"                                                                       \
	"# Absolute path of the mount point.\n"                                                    \
	"root = /srv/machines/example\n"                                                           \
	"# A file that must be in root: without it the share counts as offline.\n"                 \
	"# marker =\n"                                                                             \
	"# A folder below root.\n"                                                                 \
	"# folder =\n"                                                                             \
	"# The name of the program on the machine: {number} {job} {rev} {channel}.\n"              \
	"# name = {job}_{channel}.NC\n"                                                            \
	"# Make it upper case, whatever the pattern gives; or 8.3 in upper case.\n"                \
	"# upper_case = no\n"                                                                      \
	"# short_names = no\n"                                                                     \
	"# Line ends as the control wants them in the file: as-is, lf, crlf.\n"                    \
	"# eob = as-is\n"                                                                          \
	"# For the whole order.\n"                                                                 \
	"# total_ms = 120000\n"                                                                    \
	"\n"                                                                                       \
	"# What differs for one channel:\n"                                                        \
	"# [line upper]\n"                                                                         \
	"# folder = path1\n"                                                                       \
	"# [line lower]\n"                                                                         \
	"# folder = path2\n"                                                                       \
	"\n"                                                                                       \
	"# ... or a share on a server, by FTP, FTPS or SFTP:\n"                                    \
	"# [line]\n"                                                                               \
	"# kind = remote\n"                                                                        \
	"# ftp://HOST (clear text: password and programs can be read and altered on their way),\n" \
	"# ftps://HOST (TLS) or sftp://HOST (SSH); :PORT behind when it is not the usual one.\n"   \
	"# address =\n"                                                                            \
	"# With ftps://: explicit (AUTH TLS, port 21) or implicit (port 990).\n"                   \
	"# tls = explicit\n"                                                                       \
	"# Absolute path on the server; a file that must be there; a folder below it.\n"           \
	"# root = /\n"                                                                             \
	"# marker =\n"                                                                             \
	"# folder =\n"                                                                             \
	"# user =\n"                                                                               \
	"# Where the password lies, never the password: credential:NAME (LoadCredential= in the service's\n" \
	"# unit) or file:/PATH (a file of the service's user, mode 0600). key: the same, for sftp://.\n" \
	"# password =\n"                                                                           \
	"# key =\n"                                                                                \
	"# What the server is known by. sftp://: its host key's fingerprint SHA256:..., or a file of known\n" \
	"# hosts. ftps://: sha256//... of its public key, or a file of certificates that vouch for it, or\n" \
	"# else the system's.\n"                                                                   \
	"# pin =\n"                                                                                \
	"# known_hosts =\n"                                                                        \
	"# ca =\n"                                                                                 \
	"# no: whoever answers is taken for the server. Told as an event, and by 'yoke machines'.\n" \
	"# verify = yes\n"                                                                         \
	"# To connect and log in; for the answer to a command; while a file stands still; the whole order.\n" \
	"# open_ms = 10000\n"                                                                      \
	"# answer_ms = 10000\n"                                                                    \
	"# stall_ms = 15000\n"                                                                     \
	"# total_ms = 120000\n"                                                                    \
	"# name = {job}_{channel}.NC\n"                                                            \
	"\n"                                                                                       \
	"# ... or a serial line, local or through a device server. Check each value in the "       \
	"control's\n"                                                                              \
	"# manual before the first transfer:\n"                                                    \
	"# [line]\n"                                                                               \
	"# kind = serial\n"                                                                        \
	"# A device server: rfc2217://HOST:PORT when it lets us set its port, else tcp://HOST:PORT.\n" \
	"# A local port, as 'yoke ports' shows it: a USB "                                          \
	"adapter by\n"                                                                             \
	"# its serial number, usb:SERIAL or usb:VID:PID:SERIAL, or by the place where it is "      \
	"plugged in,\n"                                                                            \
	"# path:WHERE; a port of the computer itself: port:ttyS0.\n"                               \
	"# address =\n"                                                                            \
	"# 110 to 921600.\n"                                                                       \
	"# baud = 9600\n"                                                                          \
	"# 8n1 7e1 7e2 7o1 8n2 8e1: what a port that we can set is set to.\n"                                \
	"# framing = 7e2\n"                                                                        \
	"# iso: even parity in bit 8 made by us (ISO 840); ascii: bytes as they are; eia: "        \
	"RS-244,\n"                                                                                \
	"# which needs framing 8n1 or 8n2.\n"                                                      \
	"# code = iso\n"                                                                           \
	"# EIA codes that differ between controls, as defaults; also for : * = # [ ] @ $, and "    \
	"none.\n"                                                                                  \
	"# eia = ER 0B, TAB 3E, UC 7C, LC 7A, BS 2A, & 0E, ( 1A, ) 4A\n"                           \
	"# End of block on the line: lf crlf lfcrcr.\n"                                            \
	"# eob = lf\n"                                                                             \
	"# Who brakes: xon (DC3 and DC1), rtscts, dtrdsr, both (xon and rtscts), none.\n"          \
	"# flow = xon\n"                                                                           \
	"# The line of a local port that drops when the control is off or the cable is out: "      \
	"none dsr dcd.\n"                                                                          \
	"# watch = none\n"                                                                         \
	"# Send nothing before the control's DC1.\n"                                               \
	"# wait_dc1 = yes\n"                                                                       \
	"# dc2_dc4 = no\n"                                                                         \
	"# leader = 0\n"                                                                           \
	"# trailer = 0\n"                                                                          \
	"# Milliseconds after each character, and after each end of block.\n"                      \
	"# char_pause = 0\n"                                                                       \
	"# block_pause = 0\n"                                                                      \
	"# Most characters kept unsent below us, so that DC3 still stops in time.\n"               \
	"# reserve = 64\n"                                                                         \
	"# open_ms = 10000\n"                                                                      \
	"# 0: wait for the control for ever.\n"                                                    \
	"# first_ms = 0\n"                                                                         \
	"# stall_ms = 30000\n"                                                                     \
	"# 0: computed from size and baud.\n"                                                      \
	"# total_ms = 0\n"                                                                         \
	"# punch: the operator punches the program after the load, and it is compared.\n"          \
	"# read_back = none\n"                                                                     \
	"# read_back_ms = 600000\n"                                                                \
	"# Does the control execute a program while it reads it (drip feed)? no; alone: yes, but only\n" \
	"# what meets no wait code; waits: yes, wait codes included. The machine builder's manual decides.\n" \
	"# drip = no\n"                                                                            \
	"# The block by which the control knows which channel a program is for, where its manual has one: sent\n" \
	"# right behind the opening %, and expected there in what it punches. In [line upper] and [line lower].\n" \
	"# channel_word =\n"                                                                       \
	"# silence_ms = 5000\n"                                                                    \
	"# name = O{number}\n"                                                                     \
	"\n"                                                                                       \
	"# ... or a person with a stick or memory card ('yoke export', 'yoke import'):\n"           \
	"# [line]\n"                                                                               \
	"# kind = stick\n"                                                                         \
	"# A folder on the stick; mostly one for each channel, in [line upper] and [line lower].\n" \
	"# folder =\n"                                                                             \
	"# name = {job}_{channel}.NC\n"                                                            \
	"# Names in upper case; 8.3 in upper case.\n"                                              \
	"# upper_case = no\n"                                                                      \
	"# short_names = no\n"                                                                     \
	"# Line ends: as-is, lf, crlf.\n"                                                          \
	"# eob = as-is\n"                                                                          \
	"\n"                                                                                       \
	"# Calls: a tiny program that is written at the machine's own keyboard and punched asks "  \
	"for programs,\n"                                                                          \
	"# in one comment:  (YOKE BRING J4417 REV C)  (YOKE LAST GOOD)  (YOKE PROVEN)  with BADGE " \
	"17 behind it\n"                                                                           \
	"# when somebody says who he is. The answer comes on the same line when the control is "   \
	"set to read.\n"                                                                           \
	"[call]\n"                                                                                 \
	"# yes: the serial lines are listened to between orders.\n"                                \
	"# listen = no\n"                                                                          \
	"# The words of a call, in any case.\n"                                                    \
	"# mark = YOKE\n"                                                                          \
	"# bring = BRING\n"                                                                        \
	"# last_good = LAST GOOD\n"                                                                \
	"# proven = PROVEN\n"                                                                      \
	"# revision = REV\n"                                                                       \
	"# badge = BADGE\n"                                                                        \
	"\n"                                                                                       \
	"# How the machine tells that it runs: no program on a share is replaced meanwhile, and "   \
	"none while it\n"                                                                          \
	"# does not tell. One of three ways; without any nobody is asked.\n"                       \
	"# [running]\n"                                                                            \
	"# A file in the share's root that is there while the machine runs, or while it stands.\n" \
	"# file = RUNNING.FLG\n"                                                                   \
	"# idle_file = IDLE.FLG\n"                                                                 \
	"# An MTConnect agent, its device (when it has several), and the Path of each channel.\n"  \
	"# agent = http://192.0.2.8:5000\n"                                                        \
	"# device = LATHE1\n"                                                                      \
	"# answer_ms = 5000\n"                                                                     \
	"# [running upper]\n"                                                                      \
	"# path = path1\n"                                                                         \
	"# [running lower]\n"                                                                      \
	"# path = path2\n"                                                                         \
	"\n"                                                                                       \
	"[wait]\n"                                                                                 \
	"# The M codes at which a channel waits for the other; none: it only waits as below.\n"    \
	"# codes = M200-M299\n"                                                                    \
	"# How a wait code names the channels that meet: all (it names none), P digits (P13: "     \
	"channels 1\n"                                                                             \
	"# and 3) or P mask (P5: bits 0 and 2, channels 1 and 3); the letter may be another.\n"    \
	"# partners = all\n"                                                                       \
	"# A wait that is written as a call, such as MEET({code},{channels}).\n"                   \
	"# call =\n"                                                                               \
	"# Codes that send a signal and go on, and those that wait for one: the first of receive " \
	"waits\n"                                                                                  \
	"# for the first of send, and so on.\n"                                                    \
	"# send =\n"                                                                               \
	"# receive =\n"                                                                            \
	"# yes: a wait code must stand alone in its block.\n"                                      \
	"# alone = yes\n"                                                                          \
	"# Block-skip switches of the channels: common or separate.\n"                             \
	"# skip = common\n"                                                                        \
	"\n"                                                                                       \
	"# How the control computes. What depends on something unknown is not guessed.\n"          \
	"[values]\n"                                                                               \
	"# FIX[-2.8]: zero (-2) or down (-3).\n"                                                   \
	"# fix = unknown\n"                                                                        \
	"# AND, OR and XOR bind: sum (as + and -), product (AND as * and /), last (weaker than "   \
	"EQ and its kin).\n"                                                                       \
	"# logic = unknown\n"                                                                      \
	"# 2 AND 1: whole (not zero is true: 1) or bits (bit by bit: 0).\n"                        \
	"# truth = unknown\n"                                                                      \
	"# Millimetres that a dimension without a point counts in.\n"                              \
	"# increment = 0.001\n"                                                                    \
	"\n"                                                                                       \
	"[limits]\n"                                                                               \
	"# number_min = 1\n"                                                                       \
	"# number_max = 9999\n"                                                                    \
	"# number_colon = no\n"                                                                    \
	"# end_m99 = no\n"                                                                         \
	"# point = yes\n"                                                                          \
	"# lower_case = no\n"                                                                      \
	"# size_max = 1073741824\n"                                                                \
	"# block_max = 256\n"                                                                      \
	"# sequence_max = 99999\n"                                                                 \
	"# call_depth = 4\n"                                                                       \
	"# run_max = 10000000\n"                                                                   \
	"\n"                                                                                       \
	"# A finding's weight on this machine: off note warn refuse. 'yoke explain' lists them.\n" \
	"[weights]\n"                                                                              \
	"# point-missing = warn\n"                                                                 \
	"\n"                                                                                       \
	"# yes: a pair waits until a second person, who dropped none of it, accepts it ('yoke accept').\n" \
	"[release]\n"                                                                              \
	"# two_person = no\n"                                                                      \
	"# Rules that nobody may accept a pair despite, beside what proves that wait codes disagree.\n" \
	"# absolute =\n"                                                                           \
	"\n"                                                                                       \
	"# How names and headers may call a channel, and words that it does not take.\n"           \
	"[channel upper]\n"                                                                        \
	"# aliases = UP, UPR, U\n"                                                                 \
	"# forbid =\n"                                                                             \
	"# yes: X and U are diameters.\n"                                                          \
	"# diameter = no\n"                                                                        \
	"# How many last digits of T name the offset, as in T0101; 0: H and D name it.\n"          \
	"# offset_digits = 0\n"                                                                    \
	"# For estimates of time: mm/min, degrees/min, s, 1/min.\n"                                \
	"# rapid = 20000\n"                                                                        \
	"# rapid_turn = 7200\n"                                                                    \
	"# tool_change = 2\n"                                                                      \
	"# speed_max = 6000\n"                                                                     \
	"[channel lower]\n"                                                                        \
	"# aliases = LO, LOW, LWR, L\n"                                                            \
	"# forbid = M06\n"                                                                         \
	"# diameter = yes\n"                                                                       \
	"# offset_digits = 2\n"                                                                    \
	"\n"                                                                                       \
	"# What miscellaneous codes mean on this machine, for the setup sheet: group, colon, "     \
	"text.\n"                                                                                  \
	"[codes]\n"                                                                                \
	"# M10 = clamping: chuck closed\n"

#endif
