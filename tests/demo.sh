#!/bin/sh
# A short day in an invented shop, played on the real programs: a lathe on a serial line (the bench control, over TCP) and a
# lathe with a share (a directory). Each step prints the command and what it answered; a step that does not hold ends the
# demo with status 1. Everything lies in a scratch folder that is removed at the end.
set -eu
cd "$(dirname "$0")/.."
. tests/need.sh
need_build

cmake -S . -B build -G Ninja >build.log 2>&1 && cmake --build build --target yoked yoke-carrier yoke bench-control >>build.log 2>&1 ||
	{ tail -n 40 build.log; exit 1; }
rm -f build.log

PATH=$PWD/build/daemon:$PWD/build/cli:$PWD/build/tests/control:$PATH
parts=$PWD/tests/demo
scratch=$(mktemp -d)
YOKE_HOME=$scratch/home
export PATH YOKE_HOME
service= bench=

clean() {
	[ -z "$service" ] || kill "$service" 2>/dev/null || true
	[ -z "$bench" ] || kill "$bench" 2>/dev/null || true
	wait 2>/dev/null || true
	rm -rf "$scratch"
}
trap clean EXIT
trap 'exit 1' INT TERM

step() {
	printf '\n--- %s\n' "$*"
}

# Show a command, run it in the scratch folder, and expect its exit status.
expect() {
	wanted=$1
	shift
	printf '$ %s\n' "$*"
	status=0
	(cd "$scratch" && "$@") 2>&1 || status=$?
	[ "$status" = "$wanted" ] || fail "'$*' ended with status $status, expected $wanted"
}

fail() {
	echo "the demo does not hold: $*"
	exit 1
}

# Wait until a command succeeds, twenty seconds at most.
until_true() {
	for _ in $(seq 200); do
		"$@" >/dev/null 2>&1 && return 0
		sleep 0.1
	done
	fail "this did not come true: $*"
}

says() { # pattern, command...
	pattern=$1
	shift
	"$@" 2>/dev/null | grep -q "$pattern"
}

control() {
	bench-control --ask "$scratch/operator" "$@"
}

step 'The shop: LATHE1 has a serial line, LATHE2 a share. The service starts.'
mkdir -p "$YOKE_HOME/machines" "$scratch/share/CH1" "$scratch/share/CH2"
touch "$scratch/share/LATHE2.HERE"
bench-control --line-upper 0 --line-lower 0 --operator "$scratch/operator" --with-parent >"$scratch/bench.txt" &
bench=$!
until_true grep -q ready "$scratch/bench.txt"
upper=$(sed -n 's/^line-upper //p' "$scratch/bench.txt")
lower=$(sed -n 's/^line-lower //p' "$scratch/bench.txt")
cat >"$YOKE_HOME/machines/LATHE1.conf" <<END
[machine]
title = Lathe by the door
[line]
kind = serial
baud = 9600
framing = 7e2
code = iso
read_back = punch
[line upper]
address = tcp://$upper
[line lower]
address = tcp://$lower
END
cat >"$YOKE_HOME/machines/LATHE2.conf" <<END
[machine]
title = Lathe at the window
[line]
kind = directory
root = $scratch/share
marker = LATHE2.HERE
[line upper]
folder = CH1
[line lower]
folder = CH2
END
yoked --home "$YOKE_HOME" >"$scratch/service.txt" 2>&1 &
service=$!
until_true grep -q ready "$scratch/service.txt"
cat "$scratch/service.txt"

step 'A pair of a bush is released: revision C.'
expect 0 cp "$parts/J4417-C.upper.nc" "$parts/J4417-C.lower.nc" "home/programs"
until_true says released yoke jobs
expect 0 yoke jobs
expect 0 cat "home/programs/.yoke/J4417-C.txt"

step 'It is carried over the share, and checked by another tool.'
expect 0 yoke send J4417 LATHE2
expect 0 sha256sum "$parts/J4417-C.upper.nc" share/CH1/J4417_upper.NC "$parts/J4417-C.lower.nc" share/CH2/J4417_lower.NC
cmp "$parts/J4417-C.upper.nc" "$scratch/share/CH1/J4417_upper.NC" || fail 'the share holds another program'

step 'It is carried over the serial line: the operator sets both channels to read, and punches them back.'
for channel in upper lower; do
	control "auto read $channel on" && control "auto punch $channel on"
done
expect 0 yoke send J4417 LATHE1
expect 0 yoke machines
says 'read back' yoke machines LATHE1 || fail 'LATHE1 was not read back'

step 'The first parts are good.'
expect 0 yoke prove LATHE1 --note 'first part measured, good'
expect 0 yoke prove LATHE2 --note 'first part measured, good'

step 'Revision D comes in, and in its lower program a wait code is missing. It is held; the ladder shows why.'
expect 0 cp "$parts/J4417-D.upper.nc" "$parts/J4417-D.lower.nc" "home/programs"
until_true says 'wait-missing' yoke jobs
expect 0 yoke jobs
expect 1 yoke check "home/programs/J4417-D.upper.nc" "home/programs/J4417-D.lower.nc"
expect 1 yoke ladder "home/programs/J4417-D.upper.nc" "home/programs/J4417-D.lower.nc"
expect 1 yoke send J4417@D LATHE1

step 'The control of LATHE1 loses its memory. The last good pair is brought back.'
control forget
[ -z "$(bench-control --ask "$scratch/operator" list | grep whole)" ] || fail 'the control still has its programs'
expect 0 yoke doubt LATHE1 --note 'the control lost its memory'
expect 0 yoke restore LATHE1 --show
expect 0 yoke restore LATHE1 --yes
control list | grep -q 'upper O4417 .*whole' || fail 'the upper program is not back'
control list | grep -q 'lower O4417 .*whole' || fail 'the lower program is not back'

step 'The operator changes a feed at the control. The programs are fetched, and the change is told.'
control 'edit upper F0.2 F0.25'
for channel in upper lower; do
	control "auto read $channel off" && control "reset $channel"
done
printf '$ yoke fetch LATHE1 --out fetched    (the operator punches upper, then lower)\n'
(cd "$scratch" && yoke fetch LATHE1 --out fetched) >"$scratch/fetch.txt" 2>&1 &
fetch=$!
until_true control 'wait connected upper 10'
control 'punch upper'
control 'wait punched upper 20'
until_true control 'wait connected lower 10'
control 'punch lower'
wait "$fetch" || true
cat "$scratch/fetch.txt"
grep -q 'feed' "$scratch/fetch.txt" || says feed yoke audit --machine LATHE1 --kind drift || fail 'the change was not told'
fetched=$(cd "$scratch" && ls fetched/*upper* | head -n 1)
expect 1 yoke change "home/programs/J4417-C.upper.nc" "$fetched"
expect 0 yoke machines
expect 0 yoke who LATHE1 N60 --channel upper

step 'The change was good: it becomes revision E, checked like a drop; and who changed what in this job.'
expect 0 yoke adopt LATHE1 --rev E --note 'feed for the new insert'
expect 0 yoke history J4417

step 'Who did what, when; and nobody has rewritten it.'
expect 0 yoke audit
expect 0 yoke audit verify

kill "$service" && wait "$service" || fail 'the service did not end in good order'
service=
printf '\nThe day is over; every step held.\n'
