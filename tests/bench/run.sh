#!/bin/sh
# Prints the figures of this machine, one a line: name, value, unit, ratio, and to what the ratio is. What is compared was
# measured in the same run, in turns where it takes long, so that the ratios can be compared between machines; the values
# cannot. Nothing here fails for being slow: these are no tests. Takes about twenty minutes; everything is made in a
# scratch folder (below TMPDIR: choose a disk that counts, with 4 GB free) and removed at the end. The figures of serial
# lines come from lines.sh, those of shares from share.sh, those of shares on servers from remote.sh; each can be run alone.
#
#     sh tests/bench/run.sh [BUILD]      BUILD: a build folder, default build, made when missing
set -eu
cd "$(dirname "$0")/../.."
. tests/bench/lib.sh
begin "${1:-build}" yoked yoke-carrier yoke bench-program bench-stopwatch bench-drop bench-events bench-seal

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

# A million entries: a shop's decade. The entries are hashed twice, for the chain and for the tree.
seal() {
	mkdir "$scratch/seal"
	bench-seal "$scratch/seal" 1000000 >"$scratch/sealed"
	read -r verify bare prove checkpoint memory <"$scratch/sealed"
	figure trail-verify-1e6 "$verify" s "$bare" 'SHA-256 over the bytes of all entries, twice'
	figure trail-proof-1e6 "$prove" us "$checkpoint" 'a checkpoint, made durable'
	echo "a proof of an entry among 1,000,000 took $memory KiB more memory"
	rm -r "$scratch/seal"
}

idle() {
	home idle
	serve idle
	within 20 status
	sleep 1
	figure memory-yoked-idle "$(resident "$service")" KiB "$(resident $$)" 'the shell that runs this'
	unserve
}

heading
read_pair 100KB 50000 21
read_pair 5MB 2500000 11
read_pair 100MB 50000000 7
read_pair 1GB 512000000 3
check
waits
verdict
scan
events
seal
idle
sh tests/bench/lines.sh "$build"
sh tests/bench/share.sh "$build"
# Servers need root and packages: 77 says that they are not there.
remote=0
sh tests/bench/remote.sh "$build" || remote=$?
[ $remote = 0 ] || [ $remote = 77 ] || exit $remote
