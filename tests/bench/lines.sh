#!/bin/sh
# Prints the figures of the serial lines as run.sh does, and is called by it: how much of a line is used, characters after
# DC3, from DC1 to the first character, and many machines at once. Each is measured several times; the least disturbed time
# is printed, with the load of the last minute beside it. Takes about five minutes.
#
#     sh tests/bench/lines.sh [BUILD]      BUILD: a build folder, default build, made when missing
set -eu
cd "$(dirname "$0")/../.."
. tests/bench/lib.sh
begin "${1:-build}" yoked yoke-carrier bench-control bench-program bench-events bench-servers bench-bare

# --- One line: the bench control, and a carrier by hand ---

# line_begin NAME BAUD RESERVE BYTES [OPTION...]: a bench control with these options, and a carrier that sends to it.
line_begin() {
	name=$1 baud=$2 reserve=$3 bytes=$4 desk=$scratch/desk-$1
	shift 4
	rm -f "$desk" "$scratch/control-$name"
	bench-control --line-upper 0 --line-lower 0 --speed "$baud" --memory 10000000 --operator "$desk" --with-parent "$@" \
		>"$scratch/control-$name" &
	started="$started $!"
	within 20 grep -q ready "$scratch/control-$name"
	printf '[line]\nkind = serial\naddress = tcp://%s\nbaud = %s\nframing = 7e2\ncode = iso\nreserve = %s\n' \
		"$(sed -n 's/^line-upper //p' "$scratch/control-$name")" "$baud" "$reserve" >"$scratch/$name.conf"
	bench-program "$bytes" upper LINE >"$scratch/$name-A.upper.nc"
	bench-control --ask "$desk" read upper >/dev/null
	yoke-carrier send "$scratch/$name.conf" upper="$scratch/$name-A.upper.nc" >"$scratch/carrier-$name" 2>&1 &
	carrier=$!
	started="$started $carrier"
}

# line_end NAME CARRIER: its figures are in figures-NAME.
line_end() {
	wait "$2" || fail "the carrier of $1: $(cat "$scratch/carrier-$1")"
	bench-control --ask "$scratch/desk-$1" wait loaded upper 20 >/dev/null
	bench-control --ask "$scratch/desk-$1" figures upper >"$scratch/figures-$1"
	bench-control --ask "$scratch/desk-$1" quit >/dev/null
	[ "$(counted "$1" overrun)" = 0 ] || fail "$1: characters overran the control's buffer"
}

counted() { # NAME FIGURE
	sed -n "s/^upper\.$2 //p" "$scratch/figures-$1"
}

# best FILE: the line with the highest first column.
best() {
	sort -n "$1" | tail -n 1
}

# line BAUD RESERVE BYTES [NAME]: the line's use. Programs longer than 200 times the reserve tend to 99.5 %: carriers count
# on a line that is half a percent slow.
line() {
	for _ in 1 2 3; do
		line_begin line "$1" "$2" "$3"
		line_end line "$carrier"
		echo "$(counted line rate) $(counted line line-rate) $(load)"
	done >"$scratch/rates"
	# shellcheck disable=SC2046
	set -- "${4:-line-$1}" "$2" $(best "$scratch/rates")
	figure "$1" "$3" byte/s "$4" "line rate; reserve $2, load $5"
}

# after NAME BAUD RESERVE BYTES MOST WHAT OPTION...: the most characters that came after a DC3; the control takes fewer than
# the line brings.
after() {
	figure_name=$1 set_baud=$2 set_reserve=$3 set_bytes=$4 most=$5 what=$6
	shift 6
	for _ in 1 2 3; do
		line_begin after "$set_baud" "$set_reserve" "$set_bytes" "$@"
		line_end after "$carrier"
		[ "$(counted after dc3-sent)" -gt 2 ] || fail "$figure_name: the control did not stop the line"
		echo "-$(counted after after-dc3-most) $(counted after dc3-sent) $(load)"
	done >"$scratch/rates"
	# shellcheck disable=SC2046
	set -- $(best "$scratch/rates")
	figure "$figure_name" "${1#-}" char "$most" "$what; $set_baud baud, $2 stops, load $3"
}

# --- Many machines: yoked, its carriers, and their device servers ---

released() {
	ask /v1/jobs | grep -q '"state": *"released"'
}

says() { # WORD: of bench-servers
	grep -q "^$1" "$scratch/servers"
}

machine() { # ADDRESS PAUSE
	printf '[line]\nkind = serial\naddress = tcp://%s\nbaud = 115200\nframing = 7e2\ncode = iso\nblock_pause = %s\n' "$1" "$2"
}

# shop HOME MACHINES PAUSE BYTES EVERY HOLD ORDERS: a service with this many machines, their device servers, and a pair that
# is released. PAUSE: ms between blocks; EVERY, HOLD, ORDERS: see servers.c.
shop() {
	home "$1"
	shop=$scratch/$1
	mkdir "$shop/machines"
	bench-program "$4" upper LINE >"$scratch/upper"
	bench-program "$4" lower LINE >"$scratch/lower"
	rm -f "$scratch/servers"
	bench-servers "$2" 115200 "$5" "$6" "$7" "$scratch/upper" "$scratch/lower" >"$scratch/servers" &
	servers=$!
	started="$started $servers"
	within 20 says ready
	for i in $(seq "$2"); do
		machine "$(sed -n "${i}s/^line //p" "$scratch/servers")" "$3" >"$shop/machines/M$i.conf"
	done
	serve "$1"
	within 20 status
	cp "$scratch/upper" "$shop/programs/LINE-A.upper.nc"
	cp "$scratch/lower" "$shop/programs/LINE-A.lower.nc"
	within 20 released
}

send() { # MACHINE
	ask "/v1/machines/$1/send" -d '{"job": "LINE"}' >/dev/null || fail "no order for $1"
}

done_orders() { # NUMBER
	[ "$(ask '/v1/orders?open=no' | grep -o '"state": *"done"' | wc -l)" = "$1" ]
}

shut() {
	unserve
	rm -r "$shop"
}

# used PID...: seconds of the processor (user and system) that they used together.
used() {
	for process; do cat "/proc/$process/schedstat"; done | awk '{ s += $1 } END { printf "%.6f", s / 1e9 }'
}

# busy: seconds that all processors were busy with anything.
busy() {
	awk -v hz="$(getconf CLK_TCK)" '/^cpu / { printf "%.2f", ($2 + $3 + $4 + $7 + $8 + $9) / hz }' /proc/stat
}

# private PID: KiB that belong to it alone
private() {
	awk '/^Private_(Clean|Dirty):/ { s += $2 } END { print s }' "/proc/$1/smaps_rollup"
}

# pieces: how often characters have come at the servers.
pieces() {
	asked=$(grep -c ^pieces "$scratch/servers" || true)
	kill -USR1 "$servers"
	within 5 more_pieces "$asked"
	sed -n 's/^pieces //p' "$scratch/servers" | tail -n 1
}

more_pieces() {
	[ "$(grep -c ^pieces "$scratch/servers")" -gt "$1" ]
}

# now: the processor time of the carriers, of yoked, of the servers and of everything, pieces that came, and the time.
now() {
	# shellcheck disable=SC2086
	echo "$(used $carriers) $(used "$service") $(used "$servers") $(busy) $(pieces) $(date +%s.%N)"
}

# measure MACHINES: others' share, carriers', yoked's and servers' share of a processor; microseconds for a block; private
# memory, KiB, of the largest carrier, and of all by machine; while every machine is being sent to, which must last longer.
measure() {
	before=$(private "$service")
	for i in $(seq "$1"); do send "M$i"; done
	within 60 says sending
	carriers=$(pgrep -P "$service" -x yoke-carrier)
	a=$(now)
	sleep 8
	b=$(now)
	for process in $carriers; do private "$process"; done >"$scratch/private"
	after=$(private "$service")
	! says through || fail "$1 machines: the programs are too short to measure"
	[ "$(wc -l <"$scratch/private")" = "$1" ] || fail "$1 machines have $(wc -l <"$scratch/private") carriers"
	grown=$((($(paste -sd + "$scratch/private") + after - before) / $1))
	echo "$a $b $(sort -n "$scratch/private" | tail -n 1) $grown" | awk '{
		carriers = $7 - $1; yoked = $8 - $2; servers = $9 - $3; all = $10 - $4; pieces = $11 - $5; wall = $12 - $6
		printf "%.3f %.3f %.3f %.3f %.2f %d %d\n", (all - servers - yoked - carriers) / wall, carriers / wall,
			yoked / wall, servers / wall, (carriers + yoked) / pieces * 1e6, $13, $14
	}'
}

# machines NUMBER: all of them at 115,200 baud, with 20 ms between blocks and a DC3 for 200 ms after every 2000 characters.
machines() {
	for turn in 1 2 3; do
		shop "shop$turn" "$1" 20 11000 2000 200 1
		measure "$1" >"$scratch/measured"
		wait "$servers" || fail "$1 machines: not every program arrived whole"
		within 20 done_orders "$1"
		shut
		echo "$(cat "$scratch/measured") $(load) $(bench-bare "$1" 22500 250)" \
			"$(sed -n 's/^first-[a-z]* //p' "$scratch/servers" | paste -sd ' ')"
	done >"$scratch/times"
	sort -n "$scratch/times" | head -n 1 >"$scratch/least"
	read -r others carriers yoked servers block worst each load bare middle slow <"$scratch/least"
	both=$(echo "$carriers $yoked" | awk '{ print $1 + $2 }')
	figure "machines-$1" "$both" core "$(echo "$1" | awk '{ print $1 / 512 }')" \
		"aim of half a core for 256; 20 ms after each block; $yoked of it yoked; load $load, others' $others core"
	figure "machines-$1-block" "$block" us "$bare" 'a process that only sleeps and sends a block, as many at once'
	figure "machines-$1-servers" "$servers" core "$both" 'machines above: what played their side'
	figure "memory-$1-carrier" "$worst" KiB 2048 'aim of 2 MiB private memory, the largest carrier'
	figure "memory-$1-machine" "$each" KiB 2048 'aim of 2 MiB, carrier and what yoked grew by'
	figure "dc1-to-first-$1-median" "$middle" ms "$event_ms" 'time of an event on this disk; all ask within a second'
	figure "dc1-to-first-$1-worst" "$slow" ms "$event_ms" 'time of an event on this disk'
}

# From the DC1 of a control that waits to the first character: the step becomes an event in between.
first() {
	for turn in 1 2 3; do
		shop "first$turn" 1 0 2000 0 0 50
		for i in $(seq 50); do
			send M1
			within 20 done_orders "$i"
		done
		wait "$servers" || fail 'not every program arrived whole'
		shut
		echo "$(sed -n 's/^first-[a-z]* //p' "$scratch/servers" | paste -sd ' ') $(load)"
	done >"$scratch/times"
	sort -n "$scratch/times" | head -n 1 >"$scratch/least"
	read -r middle slow load <"$scratch/least"
	figure dc1-to-first-median "$middle" ms "$event_ms" "time of an event on this disk; 100 times, load $load"
	figure dc1-to-first-worst "$slow" ms "$event_ms" 'time of an event on this disk'
}

# event_ms: how long an event takes to be durable.
event() {
	mkdir "$scratch/events"
	bench-events "$scratch/events" 1000 >"$scratch/rates"
	event_ms=$(awk '{ print 1000 / $1 }' "$scratch/rates")
	rm -r "$scratch/events"
}

carrier_memory() {
	line_begin memory 38400 64 20000
	sleep 3
	memory=$(resident "$carrier")
	line_end memory "$carrier"
	figure memory-carrier "$memory" KiB "$(resident $$)" 'the shell that runs this'
}

heading
line 9600 64 9000
line 38400 64 36000
line 115200 64 105000
line 115200 1024 105000 line-115200-reserve
line 921600 1024 840000
after after-xoff-9600 9600 64 2500 64 reserve --drain 400 --buffer 512 --reserve 200 --resume 64
after after-xoff-115200 115200 64 40000 64 reserve --drain 5000
after after-xoff-reserve-1 9600 1 2500 2 'aim of 2; reserve 1' --drain 250 --buffer 256 --reserve 64 --resume 32
carrier_memory
event
first
machines 64
machines 256
