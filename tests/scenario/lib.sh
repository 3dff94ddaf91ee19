# Helpers of the scenario tests, to be sourced with the build folder as $1. A test has a scratch
# folder of its own with a home for yoked; everything that it started ends with it. Nothing waits
# for a fixed time: a condition is asked again until it holds, or until its bound.
set -eu
build=$(cd "$1" && pwd)
yoked=$build/daemon/yoked
scratch=$(mktemp -d "${TMPDIR:-/tmp}/yoke.XXXXXX")
home=$scratch/home
programs=$home/programs
log=$scratch/yoked.log
answer=$scratch/answer
pid=
mounted=
barriers=0
me="$(id -un) (uid $(id -u), group $(id -gn))" # as events name who asks over the socket
patience=30 # seconds: a busy machine and sanitizers are slow
mkdir -p "$home"
: >"$log"

end() {
	status=$?
	trap - EXIT INT TERM
	[ -z "$pid" ] || kill -9 "$pid" 2>/dev/null || true
	for at in $mounted; do umount -l "$at" || true; done
	if [ "$status" -ne 0 ] && [ "$status" -ne 77 ]; then
		echo "--- the last of yoked's messages:"
		tail -n 40 "$log"
	fi
	rm -rf "$scratch"
	exit "$status"
}
trap end EXIT
trap 'exit 130' INT TERM

fail() {
	echo "FAILED: $*" >&2
	exit 1
}

skip() {
	echo "skipped: $*"
	exit 77
}

# expect WHAT WANTED SEEN
expect() {
	[ "$2" = "$3" ] || fail "$1: expected '$2', saw '$3'"
}

# expect_in WHAT PART WHOLE
expect_in() {
	case $3 in
	*"$2"*) ;;
	*) fail "$1: expected '$2' in: $3" ;;
	esac
}

# within SECONDS COMMAND...: the command has status 0 before so many seconds are over. The command
# must not use within itself.
within() {
	within_end=$(($(date +%s) + $1))
	shift
	until "$@" >/dev/null 2>&1; do
		[ "$(date +%s)" -lt "$within_end" ] || return 1
		sleep 0.05
	done
}

# --- The service ---

# settings KEY VALUE...: the [yoke] section of a new yoke.conf.
settings() {
	echo '[yoke]' >"$home/yoke.conf"
	while [ $# -gt 0 ]; do
		echo "$1 = $2" >>"$home/yoke.conf"
		shift 2
	done
}

answers() {
	kill -0 "$pid" 2>/dev/null || return 0 # it ended: there is nothing to wait for
	curl -sf --max-time 5 --unix-socket "$home/yoke.sock" http://yoke/v1/status
}

start() {
	"$yoked" --home "$home" >>"$log" 2>&1 &
	pid=$!
	within "$patience" answers || fail "yoked does not answer after $patience s"
	kill -0 "$pid" 2>/dev/null || fail "yoked did not start"
}

# What a sanitizer has to say, if it was built in.
clean_log() {
	if grep -aE 'ERROR: (Address|Leak|UndefinedBehavior)Sanitizer|runtime error:' "$log"; then
		fail "a sanitizer found the fault above"
	fi
}

gone() {
	! kill -0 "$pid" 2>/dev/null
}

stop() {
	kill -TERM "$pid"
	within "$patience" gone || fail "yoked does not end after SIGTERM"
	stopped=0
	wait "$pid" || stopped=$?
	pid=
	expect 'status of yoked after SIGTERM' 0 "$stopped"
	clean_log
}

# The power goes.
crash() {
	kill -9 "$pid"
	wait "$pid" 2>/dev/null || true
	pid=
}

# refuses_to_start: runs yoked, which must end by itself. Its messages are in $said, status $status_of.
refuses_to_start() {
	status_of=0
	timeout "$patience" "$yoked" --home "$home" "$@" >"$scratch/said" 2>&1 || status_of=$?
	said=$(cat "$scratch/said")
	cat "$scratch/said" >>"$log"
	clean_log
	case $status_of in
	1 | 2) ;;
	*) fail "yoked should refuse to start with status 1 or 2, but: $status_of, $said" ;;
	esac
}

# --- The API ---

# api PATH: the answer's body.
api() {
	curl -sS --fail-with-body --max-time "$patience" --unix-socket "$home/yoke.sock" "http://yoke$1"
}

# ask METHOD PATH [CURL ARGUMENT...]: the status; the body goes to $answer.
ask() {
	ask_method=$1 ask_path=$2
	shift 2
	curl -sS --path-as-is --max-time "$patience" --unix-socket "$home/yoke.sock" -o "$answer" \
		-w '%{http_code}' -X "$ask_method" "$@" "http://yoke$ask_path"
}

# events [FILTER]: all events that match, oldest first, one JSON object a line.
events() {
	api "/v1/audit?limit=100000&order=oldest${1:+&$1}" | jq -c '.events[]'
}

count_events() {
	events "${1:-}" | wc -l
}

# The last events in short, for a message.
trail() {
	events | tail -n 20 | jq -r '[.seq, .kind, .job, .revision, .text] | map(tostring) | join(" ")'
}

expect_events() { # WANTED FILTER
	seen=$(count_events "$2")
	[ "$1" = "$seen" ] || fail "number of events with '$2': expected $1, saw $seen; the trail: $(trail)"
}

# pair_of JOB REVISION [MACHINE]: the pair with its report, empty when there is none.
pair_of() {
	[ "$(ask GET "/v1/jobs/$1")" = 200 ] || return 0
	jq -c --arg r "$2" --arg m "${3:-}" \
		'.pairs[] | select(.revision == $r and (.machine // "") == $m)' "$answer"
}

state_of() {
	pair_of "$@" | jq -r .state
}

has_state() { # STATE JOB REVISION [MACHINE]
	has_state=$1
	shift
	[ "$(state_of "$@")" = "$has_state" ]
}

# becomes STATE JOB REVISION [MACHINE]
becomes() {
	within "$patience" has_state "$@" || {
		shown=$*
		shift
		fail "pair should become '$shown', but is: $(pair_of "$@" | jq -c 'del(.report)')"
	}
}

has_event() { # FILTER
	[ "$(count_events "$1")" -gt 0 ]
}

appears() { # FILTER
	within "$patience" has_event "$1" || fail "no event with $1 came; the trail: $(trail)"
}

# findings_of JOB REVISION [MACHINE]: "WEIGHT NAME" of each, sorted.
findings_of() {
	pair_of "$@" | jq -r '.report.findings[] | .weight + " " + .name' | sort -u
}

# Every file of the folder was met, and none waits to settle or to be read.
idle() {
	api /v1/status | jq -e --argjson files \
		"$(find "$programs" -name .yoke -prune -o -type f -printf x | wc -c)" \
		'.folder.waiting == 0 and .folder.files >= $files'
}

# Everything that was put into the folder before is in the vault, or was looked at and left.
barrier() {
	barriers=$((barriers + 1))
	program "BARRIER$barriers" A upper $((9000 + barriers)) 201 >"$programs/BARRIER$barriers-A.upper.nc"
	appears "kind=held&job=BARRIER$barriers"
}

sound() {
	verified=$(api /v1/audit/verify)
	expect 'audit verify' true "$(printf %s "$verified" | jq .good)"
}

# --- Programs ---

# program JOB REVISION CHANNEL NUMBER CODE...: a program that waits at these codes, on stdout.
program() {
	printf '%%\nO%s (JOB %s REV %s %s)\nG0 X40. Z3.\n' "$4" "$1" "$2" "$3"
	shift 4
	for code; do printf 'G1 Z-1. F0.2\nM%s\n' "$code"; done
	printf 'M30\n%%\n'
}

# drop_pair JOB REVISION NUMBER [FOLDER]: a pair that agrees.
drop_pair() {
	for channel in upper lower; do
		program "$1" "$2" $channel "$3" 201 202 203 >"$programs/${4:+$4/}$1-$2.$channel.nc"
	done
}

sum() {
	sha256sum "$1" | cut -d ' ' -f 1
}
