#!/bin/sh
# Prints the figures of this machine, one a line: name, value, unit, ratio, and to what the ratio is. What is compared was
# measured in the same run, in turns where it takes long, so that the ratios can be compared between machines; the values
# cannot. Nothing here fails for being slow: these are no tests. Takes about ten minutes; everything is made in a scratch
# folder (below TMPDIR: choose a disk that counts, with 4 GB free) and removed at the end.
#
#     sh tests/bench/run.sh [BUILD]      BUILD: a build folder, default build, made when missing
set -eu
cd "$(dirname "$0")/../.."
. tests/need.sh
need_build
need coreutils curl findutils procps sed util-linux

build=${1:-build}
[ -f "$build/CMakeCache.txt" ] || cmake -S . -B "$build" -G Ninja >/dev/null
cmake --build "$build" --target yoked yoke-carrier yoke bench-control \
	bench-program bench-stopwatch bench-drop bench-events >"$build/bench.log" 2>&1 || {
	tail -n 40 "$build/bench.log"
	exit 1
}
rm -f "$build/bench.log"
if grep -q 'YOKE_SANITIZE:BOOL=ON\|CMAKE_BUILD_TYPE:STRING=Debug' "$build/CMakeCache.txt"; then
	echo "bench: $build has sanitizers or no optimisation: its figures mean nothing" >&2
	exit 2
fi
build=$(cd "$build" && pwd)
PATH=$build/daemon:$build/cli:$build/tests/control:$build/tests/bench:$PATH
LC_ALL=C
export PATH LC_ALL
scratch=$(mktemp -d)
started=

clean() {
	# shellcheck disable=SC2086
	[ -z "$started" ] || kill $started 2>/dev/null || true
	wait 2>/dev/null || true
	rm -rf "$scratch"
}
trap clean EXIT
trap 'exit 130' INT TERM

fail() {
	echo "bench: $*" >&2
	exit 1
}

# within SECONDS COMMAND...
within() {
	end=$(($(date +%s) + $1))
	shift
	until "$@" >/dev/null 2>&1; do
		[ "$(date +%s)" -lt "$end" ] || fail "this did not come true: $*"
		sleep 0.05
	done
}

# figure NAME VALUE UNIT BASE TO-WHAT: the ratio is VALUE to BASE.
figure() {
	awk -v name="$1" -v value="$2" -v unit="$3" -v base="$4" -v what="$5" \
		'BEGIN { printf "%-28s %10s %-9s %7.3f  %s\n", name, value, unit, value / base, what }'
}

# median FILE COLUMN
median() {
	awk -v c="$2" '{ print $c }' "$1" | sort -n | awk '{ v[NR] = $1 } END { print v[int((NR + 1) / 2)] }'
}

# home NAME: a new home whose program numbers are enough for many jobs.
home() {
	mkdir -p "$scratch/$1/programs"
	printf '[yoke]\n[limits]\nnumber_max = 99999999\n' >"$scratch/$1/yoke.conf"
}

# serve HOME: starts yoked, without waiting for it.
serve() {
	yoked --home "$scratch/$1" >"$scratch/$1.log" 2>&1 &
	service=$!
	started="$started $service"
	socket=$scratch/$1/yoke.sock
}

status() {
	curl -sf --max-time 60 --unix-socket "$socket" http://yoke/v1/status
}

unserve() {
	kill "$service"
	wait "$service" || fail "yoked did not end in good order: $(tail -n 3 "$scratch"/*.log)"
}

resident() { # PID: KiB
	awk '/^VmRSS:/ { print $2 }' "/proc/$1/status"
}

# turn NAME COMMAND...: what the command takes on one processor is added to the file NAME.
turn() {
	into=$scratch/read/$1
	shift
	taskset -c 0 bench-stopwatch "$@" >>"$into"
}

# taken NAME COLUMN: 1 wall, 2 processor, 3 memory
taken() {
	median "$scratch/read/$1" "$2"
}

# compared VERB SIZE BASE: the four figures of a verb; BASE is sum or changed-sum, and so for lines.
compared() {
	figure "$1-$2-processor" "$(taken "$1" 2)" s "$(taken "$3sum" 2)" 'sha256sum of the same files, user+sys'
	figure "$1-$2-lines" "$(taken "$1" 2)" s "$(taken "$3lines" 2)" 'wc -l of the same files, user+sys'
	figure "$1-$2-one-core" "$(taken "$1" 1)" s "$(taken "$3sum" 1)" 'sha256sum of the same files, wall, one core'
	figure "$1-$2-memory" "$(taken "$1" 3)" KiB "$pair" 'size of the files'
}

# read_pair SIZE BYTES TURNS: check and ladder of a pair, and change of one program of it and the same with a block in a
# thousand changed. BYTES is the size of one program.
read_pair() {
	mkdir "$scratch/read"
	upper=$scratch/read/BIG-A.upper.nc lower=$scratch/read/BIG-A.lower.nc changed=$scratch/read/changed.nc
	bench-program "$2" upper BIG >"$upper"
	bench-program "$2" lower BIG >"$lower"
	sed '0~1009s/\.[0-9]*/.5/' "$upper" >"$changed"
	pair=$(($(stat -c %s "$upper" "$lower" | paste -sd+) >> 10))
	yoke check "$upper" "$lower" >"$scratch/read/report" || fail "the pair of $1 is refused: $(cat "$scratch/read/report")"
	cat "$upper" "$lower" "$changed" >/dev/null
	for _ in $(seq "$3"); do
		turn check yoke check "$upper" "$lower"
		turn sum sha256sum "$upper" "$lower"
		turn lines wc -l "$upper" "$lower"
		turn ladder yoke ladder "$upper" "$lower"
	done
	compared check "$1" ''
	compared ladder "$1" ''
	for _ in $(seq $((($3 + 2) / 3))); do
		turn change yoke change --limit 1 "$upper" "$changed" || [ $? = 1 ] || fail 'change'
		turn changed-sum sha256sum "$upper" "$changed"
		turn changed-lines wc -l "$upper" "$changed"
	done
	compared change "$1" changed-
	rm -r "$scratch/read"
}

# All processors at once, as people wait for it.
check() {
	mkdir "$scratch/check"
	upper=$scratch/check/BIG-A.upper.nc lower=$scratch/check/BIG-A.lower.nc
	bench-program 50000000 upper BIG >"$upper"
	bench-program 50000000 lower BIG >"$lower"
	cat "$upper" "$lower" >/dev/null
	for _ in 1 2 3 4 5 6 7; do
		bench-stopwatch yoke check "$upper" "$lower" >>"$scratch/check/yoke"
		bench-stopwatch sha256sum "$upper" "$lower" >>"$scratch/check/sha256sum"
	done
	figure check-100MB-wall "$(median "$scratch/check/yoke" 1)" s "$(median "$scratch/check/sha256sum" 1)" 'sha256sum of the same files, wall'
	rm -r "$scratch/check"
}

# 100,000 wait codes in a pair.
waits() {
	mkdir "$scratch/read"
	upper=$scratch/read/BIG-A.upper.nc lower=$scratch/read/BIG-A.lower.nc
	bench-program waits 50000 upper BIG >"$upper"
	bench-program waits 50000 lower BIG >"$lower"
	yoke check "$upper" "$lower" >"$scratch/read/report" || fail "the pair with many wait codes is refused"
	for _ in 1 2 3 4 5 6 7; do
		turn check yoke check "$upper" "$lower"
		turn ladder yoke ladder "$upper" "$lower"
		turn sum sha256sum "$upper" "$lower"
		turn lines wc -l "$upper" "$lower"
	done
	pair=$(($(stat -c %s "$upper" "$lower" | paste -sd+) >> 10))
	compared check 100k-waits ''
	compared ladder 100k-waits ''
	rm -r "$scratch/read"
}

verdict() {
	home drop
	bench-program 100000 upper J0000000 >"$scratch/upper"
	bench-program 100000 lower J0000000 >"$scratch/lower"
	serve drop
	within 20 status
	bench-drop "$scratch/upper" "$scratch/lower" "$scratch/drop/programs" 400 >"$scratch/took" ||
		fail "$(tail -n 3 "$scratch/drop.log")"
	read -r middle slow <"$scratch/took"
	figure verdict-100KB-median "$middle" ms 20 'aim of 20 ms'
	figure verdict-100KB-99th "$slow" ms 20 'aim of 20 ms'
	unserve
}

scanned() {
	status | grep -q '"files": *20000, *"waiting": *0,'
}

# since START: seconds since, with two digits.
since() {
	awk -v a="$1" -v b="$(date +%s.%N)" 'BEGIN { printf "%.2f", b - a }'
}

scan() {
	home scan
	bench-program tree "$scratch/scan/programs" 20000
	find "$scratch/scan/programs" -type f -print0 | xargs -0 cat >/dev/null
	sync
	sleep 1.2 # until the last file has settled: the default of settle_ms
	for _ in 1 2 3; do
		start=$(date +%s.%N)
		find "$scratch/scan/programs" -type f -print0 | xargs -0 sha256sum >/dev/null
		since "$start" >>"$scratch/sums"
		echo >>"$scratch/sums"
	done
	base=$(median "$scratch/sums" 1)
	for which in first again; do
		start=$(date +%s.%N)
		serve scan
		within 200 scanned
		figure "scan-20000-$which" "$(since "$start")" s "$base" 'find | xargs sha256sum of the same files'
		[ "$which" = first ] || figure memory-yoked-20000 "$(resident "$service")" KiB "$(resident $$)" 'the shell that runs this'
		unserve
	done
	rm -r "$scratch/scan"
}

events() {
	mkdir "$scratch/events"
	bench-events "$scratch/events" 2000 >"$scratch/rates"
	read -r ours bare <"$scratch/rates"
	figure events "$ours" 1/s "$bare" 'write+fdatasync of as many bytes'
}

idle() {
	home idle
	serve idle
	within 20 status
	sleep 1
	figure memory-yoked-idle "$(resident "$service")" KiB "$(resident $$)" 'the shell that runs this'
	unserve
}

# line_begin BAUD BYTES: a bench control at this speed, and a carrier that sends to it.
line_begin() {
	desk=$scratch/desk$1
	bench-control --line-upper 0 --line-lower 0 --speed "$1" --operator "$desk" --with-parent >"$scratch/control$1" &
	started="$started $!"
	within 20 grep -q ready "$scratch/control$1"
	printf '[line]\nkind = serial\naddress = tcp://%s\nbaud = %s\nframing = 7e2\ncode = iso\n' \
		"$(sed -n 's/^line-upper //p' "$scratch/control$1")" "$1" >"$scratch/LATHE$1.conf"
	bench-program "$2" upper LINE >"$scratch/$1-A.upper.nc"
	bench-control --ask "$desk" read upper >/dev/null
	yoke-carrier send "$scratch/LATHE$1.conf" upper="$scratch/$1-A.upper.nc" >"$scratch/carrier$1" 2>&1 &
	carrier=$!
	started="$started $carrier"
}

# line_end BAUD CARRIER
line_end() {
	wait "$2" || fail "the carrier at $1 baud: $(cat "$scratch/carrier$1")"
	bench-control --ask "$scratch/desk$1" wait loaded upper 20 >/dev/null
	bench-control --ask "$scratch/desk$1" figures upper >"$scratch/figures$1"
	figure "line-$1" "$(sed -n 's/^upper.rate //p' "$scratch/figures$1")" byte/s \
		"$(sed -n 's/^upper.line-rate //p' "$scratch/figures$1")" 'line rate'
	overrun=$(sed -n 's/^upper.overrun //p' "$scratch/figures$1")
	[ "$overrun" = 0 ] || fail "at $1 baud $overrun characters overran the control's buffer"
}

serial() {
	line_begin 9600 30000
	slow=$carrier
	line_begin 38400 60000
	fast=$carrier
	sleep 5
	memory=$(resident "$fast")
	line_end 38400 "$fast"
	line_end 9600 "$slow"
	figure memory-carrier "$memory" KiB "$(resident $$)" 'the shell that runs this'
}

printf '# %s processors, %s, %s on %s; load before: %s (figures of a busy machine tell little)\n' "$(nproc)" \
	"$(sed -n 's/^model name[^:]*: //p' /proc/cpuinfo | head -n 1)" "$(uname -sr)" "$(stat -f -c %T "$scratch")" \
	"$(cut -d ' ' -f 1 /proc/loadavg)"
read_pair 100KB 50000 21
read_pair 5MB 2500000 11
read_pair 100MB 50000000 7
read_pair 1GB 512000000 3
check
waits
verdict
scan
events
idle
serial
sh tests/bench/share.sh "$build"
