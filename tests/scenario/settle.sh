# Goal: a file arrives once, whole, and when its writer is done with it, however it is saved and
# whatever its times say; told by the kernel's events as well as found by polling.
. "$(dirname "$0")/lib.sh"

ignored() {
	api /v1/status | jq .folder.ignored
}

ignores() { # at least so many
	[ "$(ignored)" -ge "$1" ]
}

versions() { # JOB: sizes of all versions that arrived
	events "kind=arrived&job=$1" | jq -r .detail.size | tr '\n' ' '
}

# A program of 4200 bytes that waits at one code; a comment fills what the blocks leave.
long_program() { # JOB REVISION CHANNEL NUMBER
	program "$1" "$2" "$3" "$4" 201 >"$scratch/short"
	fill=$((4200 - $(wc -c <"$scratch/short") - 20))
	head -n -2 "$scratch/short"
	printf '(%*s)\n' $((fill % 10 + 17)) ''
	yes 'X10. Z-2.' | head -n $((fill / 10))
	printf 'M30\n%%\n'
}

partial_file() { # JOB NUMBER: the writer stops at 1800 bytes, and again before the last 10
	long_program "$1" C upper "$2" >"$scratch/whole"
	expect 'bytes of the test program' 4200 "$(wc -c <"$scratch/whole")"
	exec 3>"$programs/$1-C.upper.nc"
	head -c 1800 "$scratch/whole" >&3
	sleep 0.6 # longer than settle_ms
	barrier
	expect 'versions after 1800 bytes' '' "$(versions "$1")"
	head -c 4190 "$scratch/whole" | tail -c 2390 >&3
	sleep 1
	barrier
	expect 'versions before the last 10 bytes' '' "$(versions "$1")"
	tail -c 10 "$scratch/whole" >&3
	exec 3>&-
	appears "kind=arrived&job=$1"
	barrier
	expect 'versions' '4200 ' "$(versions "$1")"
	expect 'SHA-256 of the version' "$(sum "$scratch/whole")" \
		"$(events "kind=arrived&job=$1" | jq -r '.parts[0].after')"
	long_program "$1" C lower "$2" >"$programs/$1-C.lower.nc"
	becomes released "$1" C
}

arrived_twice() { # JOB
	[ "$(count_events "kind=arrived&job=$1")" -ge 2 ]
}

saved_in_pieces() { # JOB NUMBER: each piece is closed, as a slow copier does
	long_program "$1" C upper "$2" >"$scratch/whole"
	head -c 1000 "$scratch/whole" >"$programs/$1-C.upper.nc"
	barrier
	tail -c 3200 "$scratch/whole" | head -c 3000 >>"$programs/$1-C.upper.nc"
	barrier
	tail -c 200 "$scratch/whole" >>"$programs/$1-C.upper.nc"
	appears "kind=arrived&job=$1"
	barrier
	expect 'versions of a file that was closed three times' '4200 ' "$(versions "$1")"
}

saved_through_rename() { # JOB NUMBER
	file=$programs/$1-C.upper.nc
	program "$1" C upper "$2" 201 >"$file"
	appears "kind=arrived&job=$1"
	before=$(ignored)
	: >"$programs/4913"
	rm "$programs/4913"
	mv "$file" "$file~"
	program "$1" C upper "$2" 201 202 >"$file"
	rm "$file~"
	within "$patience" arrived_twice "$1" || fail 'the new text did not arrive'
	# These lie about for longer.
	: >"$programs/.$1-C.upper.nc.swp"
	cp "$file" "$file.bak"
	cp "$file" "$programs/~\$$1-C.upper.nc"
	cp "$file" "$file.tmp"
	cp "$file" "$file~"
	within "$patience" ignores $((before + 5)) || fail "5 names should be ignored, $before before, now $(ignored)"
	barrier
	expect_events 2 "kind=arrived&job=$1"
	expect_events 4 "job=$1" # each arrived and was held; nothing was "deleted"
	expect 'the version that counts' "$(sum "$file")" "$(pair_of "$1" C | jq -r '.parts[0].sha256')"
	rm "$file.bak" "$file.tmp" "$file~" "$programs/~\$$1-C.upper.nc" "$programs/.$1-C.upper.nc.swp"
}

clocks() { # JOB NUMBER
	for channel in upper lower; do
		program "$1" C $channel "$2" 201 >"$scratch/x"
		touch -d '+2400 seconds' "$scratch/x"
		mv "$scratch/x" "$programs/$1-C.$channel.nc"
	done
	becomes released "$1" C
	expect_in 'the time of the file is told' "$(date -u -r "$programs/$1-C.upper.nc" +%Y-%m-%dT%H:%M)" \
		"$(events "kind=arrived&job=$1" | jq -r .detail.file_time | tr '\n' ' ')"
	total=$(count_events)
	barrier # one arrived, one held
	for f in "$programs"/*.nc; do touch -r "$f" -d '-3600 seconds' "$f"; done
	barrier
	stop
	start
	barrier
	within "$patience" idle || fail "the scan does not come to an end: $(api /v1/status)"
	expect_events $((total + 3 * 2 + 2)) '' # stopped, started, and the barriers: nothing of old files
	# Two saves within one step of a file system's clock: what is in the file decides.
	program "$1" D upper "$2" 201 >"$programs/$1-D.upper.nc"
	touch -d @1900000000 "$programs/$1-D.upper.nc"
	within "$patience" has_event "kind=arrived&job=$1&after=$total" || fail 'the first save did not arrive'
	program "$1" D upper "$2" 203 >"$programs/$1-D.upper.nc"
	touch -d @1900000000 "$programs/$1-D.upper.nc"
	newest() {
		[ "$(pair_of "$1" D | jq -r '.parts[0].sha256')" = "$(sum "$programs/$1-D.upper.nc")" ]
	}
	within "$patience" newest "$1" || fail 'the second save within one clock step did not arrive'
}

for watch in events poll; do
	settings watch $watch poll_ms 100 settle_ms 300 incomplete_s 30
	start
	n=44$([ $watch = events ] && echo 0 || echo 5)
	partial_file "J${n}1" "${n}1"
	saved_in_pieces "J${n}2" "${n}2"
	saved_through_rename "J${n}3" "${n}3"
	clocks "J${n}4" "${n}4"
	sound
	stop
done

# A copy that stalls for longer than incomplete_s is told as cut off, so that nobody waits in vain;
# when it goes on after all, the whole file is the next version, and the pair is released.
settings settle_ms 100 incomplete_s 1
start
long_program J4461 C lower 4461 >"$programs/J4461-C.lower.nc"
long_program J4461 C upper 4461 >"$scratch/whole"
exec 3>"$programs/J4461-C.upper.nc"
head -c 3000 "$scratch/whole" >&3
is_cut_off() {
	findings_of J4461 C | grep -q 'refuse cut-off'
}
within "$patience" is_cut_off || fail "a file that stays incomplete is not told: $(trail)"
tail -c 1200 "$scratch/whole" >&3
exec 3>&-
becomes released J4461 C
expect 'versions' '4200 3000 4200 ' "$(versions J4461)"
sound
stop
