# Helpers of the fault tests, to be sourced with the build folder as $1: machines with shares and
# lines, orders and what machines hold, on top of the helpers of the scenario tests.
. "$(dirname "$0")/../scenario/lib.sh"
bench=$build/tests/control/bench-control
YOKE_HOME=$home
export YOKE_HOME
mkdir -p "$home/machines"

# The carrier, behind a gate that holds one of them: see hold.
cat >"$scratch/yoke-carrier" <<END
#!/bin/sh
if mv "$scratch/gate" "$scratch/gate.shut" 2>/dev/null; then
	while [ -e "$scratch/gate.shut" ]; do sleep 0.02; done
fi
exec "$build/daemon/yoke-carrier"
END
chmod +x "$scratch/yoke-carrier"

start() {
	"$yoked" --home "$home" --carrier "$scratch/yoke-carrier" >>"$log" 2>&1 &
	pid=$!
	within "$patience" answers || fail "yoked does not answer after $patience s"
	kill -0 "$pid" 2>/dev/null || fail "yoked did not start"
}

yoke() {
	"$build/cli/yoke" "$@"
}

# --- Machines ---

# machine NAME: its configuration from stdin.
machine() {
	cat >"$home/machines/$1.conf"
}

# share NAME [SETTING...]: a machine with a share $scratch/NAME, a folder for each channel, and a
# marker; the settings go to [machine]. Orders are tried once, unless they say otherwise.
share() {
	share_name=$1
	shift
	mkdir -p "$scratch/$share_name/CH1" "$scratch/$share_name/CH2"
	: >"$scratch/$share_name/HERE"
	{
		echo '[machine]'
		for setting; do echo "$setting"; done
		case $* in *retry_s*) ;; *) echo 'retry_s = 0' ;; esac
		printf '[line]\nkind = directory\nroot = %s\nmarker = HERE\n' "$scratch/$share_name"
		printf '[line upper]\nfolder = CH1\n[line lower]\nfolder = CH2\n'
	} | machine "$share_name"
}

# on NAME CHANNEL JOB: the path of the program on the share.
on() {
	case $2 in
	upper) echo "$scratch/$1/CH1/$3_upper.NC" ;;
	*) echo "$scratch/$1/CH2/$3_lower.NC" ;;
	esac
}

# holds_pair NAME JOB REVISION: the share has exactly the bytes that were dropped, by sha256sum.
holds_pair() {
	for c in upper lower; do
		[ "$(sum "$(on "$1" $c "$2")" 2>/dev/null)" = "$(sum "$programs/$2-$3.$c.nc")" ] || return 1
	done
}

expect_pair() { # NAME JOB REVISION
	holds_pair "$@" || fail "the share of $1 does not hold $2 revision $3: $(cd "$scratch/$1" && find . -type f -exec sha256sum {} +)"
}

# No temporary is left on the share.
expect_tidy() {
	left=$(find "$scratch/$1" -name '.yoke-*')
	[ -z "$left" ] || fail "left over on the share of $1: $left"
}

# control NAME OPTION...: starts a bench control, which ends with this test. Its operator is asked
# with: operator NAME COMMAND...
control() {
	control_name=$1
	shift
	rm -f "$scratch/$control_name.bench"
	"$bench" --operator "$scratch/$control_name.desk" --pause 100 --verbose --with-parent "$@" >"$scratch/$control_name.bench" &
	eval "bench_$control_name=$!"
	within "$patience" grep -q ready "$scratch/$control_name.bench" || fail "the bench control $control_name does not start"
}

operator() {
	operator_name=$1
	shift
	"$bench" --ask "$scratch/$operator_name.desk" "$@"
}

# automatic NAME: the operator sets the channels to read, one after the other, and punches them back.
automatic() {
	for c in upper lower; do
		operator "$1" "auto read $c on" >/dev/null
		operator "$1" "auto punch $c on" >/dev/null
	done
}

# by_hand NAME: the control does nothing by itself.
by_hand() {
	for c in upper lower; do
		operator "$1" "auto read $c off" >/dev/null
		operator "$1" "auto punch $c off" >/dev/null
		operator "$1" "reset $c" >/dev/null
	done
}

# line_of NAME LINE: the address of a line of its bench control: line, line-upper, line-lower.
line_of() {
	echo "tcp://$(sed -n "s/^$2 //p" "$scratch/$1.bench")"
}

# serial NAME [SETTING...]: a machine with the lines of the bench control of this name; a setting that
# begins with on_release goes to [machine], the others to [line]. 115200 baud, so that tests are short.
serial() {
	serial_name=$1
	shift
	{
		echo '[machine]'
		for setting; do case $setting in on_release*) echo "$setting" ;; esac done
		printf '[line]\nkind = serial\nsilence_ms = 1000\n'
		for setting; do case $setting in on_release*) ;; *) echo "$setting" ;; esac done
		case "$*" in *baud*) ;; *) echo 'baud = 115200' ;; esac
		case "$*" in *code*) ;; *) echo 'code = iso' ;; esac
		if grep -q '^line ' "$scratch/$serial_name.bench"; then
			echo "address = $(line_of "$serial_name" line)"
		else
			printf '[line upper]\naddress = %s\n' "$(line_of "$serial_name" line-upper)"
			printf '[line lower]\naddress = %s\n' "$(line_of "$serial_name" line-lower)"
		fi
	} | machine "$serial_name"
}

# stores NAME NUMBER JOB REVISION: the control's memory, written out by itself, has the dropped bytes,
# by sha256sum.
stores() {
	for c in upper lower; do
		[ "$(sum "$scratch/$1.store/$c/O$2.nc" 2>/dev/null)" = "$(sum "$programs/$3-$4.$c.nc")" ] || return 1
	done
}

expect_stored() {
	stores "$@" || fail "the memory of $1 is not $3 revision $4: $(operator "$1" list; operator "$1" state); $(trail)"
}

# of NAME FILTER: from the machine's state, by jq.
of() {
	api "/v1/machines/$1" | jq -r "$2"
}

in_short='[.content, .job + "@" + .revision, if .read_back then "read back" else empty end,
	if .proven then "proven" else empty end, if .drift then "drift" else empty end,
	if .locked then "locked" else empty end, if .offline then "offline" else empty end,
	if .abandoned then "abandoned" else empty end] | join(" ")'

# expect_machine NAME WANTED: such as "loaded J4417@C read back".
expect_machine() {
	seen=$(of "$1" "$in_short")
	[ "$2" = "$seen" ] || fail "machine $1: expected '$2', saw '$seen'; the trail: $(trail)"
}

machine_is() {
	[ "$(of "$1" "$in_short")" = "$2" ]
}

machine_becomes() {
	within "$patience" machine_is "$@" || expect_machine "$@"
}

# --- Orders ---

# order PATH [BODY]: asks for it; its number is in $order.
order() {
	code=$(ask POST "/v1/machines/$1" -d "${2:-{\}}")
	[ "$code" = 202 ] || fail "POST $1: $code $(cat "$answer")"
	order=$(jq -r .order "$answer")
}

# send JOB REVISION MACHINE
send() {
	order "$3/send" "{\"job\":\"$1\",\"revision\":\"$2\"}"
}

# refused WANTED-STATUS WANTED-NAME PATH [BODY]: the request is refused, and its refusal is told, once in a minute.
refused() {
	code=$(ask POST "/v1/machines/$3" -d "${4:-{\}}")
	expect "POST $3" "$1 $2" "$code $(jq -r .error "$answer")"
	events kind=refused | jq -se --arg text "${3#*/}: $(jq -r .text "$answer")" \
		'any(.text == $text and now - (.time | sub("\\.[0-9]+"; "") | fromdate) < 90)' >"$scratch/told" ||
		fail "the refusal of $3 is not in the trail: $(cat "$answer"); $(trail)"
}

order_state() {
	api "/v1/orders/$1" | jq -r .state
}

order_is() {
	[ "$(order_state "$1")" = "$2" ]
}

# order_becomes NUMBER STATE
order_becomes() {
	within "$patience" order_is "$@" ||
		fail "order $1 should become $2: $(api "/v1/orders/$1"); the trail: $(trail)"
}

over() {
	case $(order_state "$1") in
	queued | carrying) return 1 ;;
	esac
}

# What the order's carrier last told, and what its bench control does.
whereabouts() {
	where=$(api "/v1/orders/$1" | jq -r .machine)
	of "$where" .progress
	[ ! -S "$scratch/$where.desk" ] || { operator "$where" state; operator "$where" list; operator "$where" figures; tail -n 30 "$scratch/$where.bench"; }
}

# outcome_of NUMBER: waits for the end of the order; how it ended is on stdout.
outcome_of() {
	within "$patience" over "$1" || fail "order $1 does not end: $(api "/v1/orders/$1"); $(whereabouts "$1"); the trail: $(trail)"
	order_state "$1"
}

# carried JOB REVISION MACHINE: sends it and expects that it arrives.
carried() {
	send "$@"
	outcome_of "$order" >"$scratch/outcome" || exit 1
	[ "$(cat "$scratch/outcome")" = done ] ||
		fail "$1@$2 does not reach $3: $(api "/v1/orders/$order"); $(whereabouts "$order"); the trail: $(trail)"
}

no_open() {
	[ "$(api "/v1/orders?machine=$1" | jq '.orders | length')" = 0 ]
}

# quiet NAME: nothing waits and nothing is under way.
quiet() {
	within "$patience" no_open "$1" || fail "orders of $1 do not end: $(api "/v1/orders?machine=$1")"
}

# The carriers of our yoked.
carriers() {
	pgrep -P "$pid" yoke-carrier
}

# hold: the next carrier stops before it begins, until let_go; for less time than yoked's patience
# of 5 s. held: a carrier stands there.
hold() {
	: >"$scratch/gate"
}

held() {
	[ -e "$scratch/gate.shut" ]
}

let_go() {
	within "$patience" held || fail "no carrier was started; the trail: $(trail)"
	rm "$scratch/gate.shut"
}

# --- Programs ---

# long JOB REVISION CHANNEL NUMBER BLOCKS: a program with so many blocks between its wait codes.
long() {
	program "$1" "$2" "$3" "$4" 201 202 203 | awk -v n="$5" '
		/^M202/ { for (i = 0; i < n; i++) printf "G1 X%d.%03d Z-%d.5 F0.2\n", i % 90, i % 1000, i % 300 }
		{ print }'
}

# drop_long JOB REVISION NUMBER BLOCKS [FOLDER]
drop_long() {
	for channel in upper lower; do
		long "$1" "$2" $channel "$3" "$4" >"$scratch/long"
		mv "$scratch/long" "$programs/${5:+$5/}$1-$2.$channel.nc"
	done
}
