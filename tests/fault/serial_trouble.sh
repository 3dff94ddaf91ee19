# Goal: when a load over a serial line breaks off (memory full, power lost, Ctrl-C), the outcome names
# the byte, the machine is split until it is put right and says so everywhere, no order of the
# service itself goes meanwhile, and the last good pair comes back.
. "$(dirname "$0")/shop.sh"
settings settle_ms 100
control LATHE1 --line-upper 0 --line-lower 0 --store "$scratch/LATHE1.store" --speed 115200
control LATHE2 --line 0 --store "$scratch/LATHE2.store" --speed 9600 --full close
serial LATHE1 'read_back = none' 'stall_ms = 700' 'on_release = carry'
serial LATHE2 'read_back = none' 'baud = 9600'
start
drop_pair J4417 C 4417
drop_long J4417 D 4417 150
for revision in C D; do becomes released J4417 $revision; done
automatic LATHE1
automatic LATHE2
for name in LATHE1 LATHE2; do
	carried J4417 C $name
	yoke prove $name --note 'first part measured' >/dev/null || fail "yoke prove $name"
	expect_machine $name 'loaded J4417@C proven'
done

# breaks NAME ERROR CHANNEL: the order ends so, in this channel, part of the bytes sent; split.
breaks() {
	expect "order that breaks off ($2)" failed "$(outcome_of "$order")"
	told=$(events "kind=split&machine=$1" | jq -r "select(.order == $order)")
	expect "error of order $order" "$2" "$(echo "$told" | jq -r .outcome)"
	text=$(echo "$told" | jq -r .text)
	echo "$text" | grep -qE "^channel $3, after [1-9][0-9]* of [0-9]* bytes, in block [1-9][0-9]*: " || fail "which byte it was is not told: $text"
	expect "$1 after it" split "$(of "$1" .content)"
	expect_in 'yoke machines' "$3, after" "$(yoke machines "$1" | tr '\n' ' ')"
	expect_in 'yoke machines' SPLIT "$(yoke machines)"
	refused 409 not-loaded "$1/prove"
}

restored() {
	automatic "$1"
	yoke restore "$1" --yes >"$scratch/said" 2>&1 || fail "yoke restore: $(cat "$scratch/said")"
	expect_in 'yoke restore' 'single block' "$(cat "$scratch/said")"
	expect_stored "$1" 4417 J4417 C
	expect_machine "$1" 'loaded J4417@C proven'
}

# The memory is full: the control holds the line for ever, or closes it.
operator LATHE1 'memory 1500' >/dev/null
send J4417 D LATHE1
breaks LATHE1 stall upper
operator LATHE1 list | grep -q 'upper O4417 .*stump' || fail 'the bench control has no stump'

# While it is split a pair that is released for it waits; after the restore it goes.
drop_pair J5020 A 5020 LATHE1
becomes released J5020 A LATHE1
sleep 1.2 # longer than a turn of the service's clock
expect 'the order of the service itself' 'queued J5020@A' \
	"$(api '/v1/orders?machine=LATHE1' | jq -r '.orders[] | .state + " " + .job + "@" + .revision')"
operator LATHE1 'memory 262144' >/dev/null
by_hand LATHE1
automatic LATHE1
yoke restore LATHE1 --yes >/dev/null 2>&1 || fail 'yoke restore'
machine_becomes LATHE1 'loaded J5020@A'
expect 'the orders of LATHE1 that arrived' 'send J4417@C restore J4417@C send J5020@A' \
	"$(for o in $(events 'kind=carried&machine=LATHE1' | jq .order); do
		api "/v1/orders/$o" | jq -r '.act + " " + .job + "@" + .revision'
	done | tr '\n' ' ' | sed 's/ $//')"
restored LATHE1
operator LATHE2 'memory 1500' >/dev/null
send J4417 D LATHE2
breaks LATHE2 lost upper
operator LATHE2 'memory 262144' >/dev/null
restored LATHE2

# The power goes in mid-load, in the first program; in the second, when the first has arrived whole.
for channel in upper lower; do
	operator LATHE1 "power off after 700 $channel" >/dev/null
	send J4417 D LATHE1
	breaks LATHE1 lost $channel
	operator LATHE1 'power on' >/dev/null
	restored LATHE1
done
expect 'what was known of the two channels' "upper $(sum "$programs/J4417-D.upper.nc") lower null" \
	"$(events "kind=split&machine=LATHE1" | tail -n 1 | jq -r '.parts[] | .channel + " " + (.after | tostring)' | tr '\n' ' ' | sed 's/ $//')"

# Ctrl-C in mid-load: the order ends, and the command says what the control holds now.
"$build/cli/yoke" send J4417@D LATHE2 >"$scratch/said" 2>&1 &
command=$!
in_the_middle() { [ "$(of LATHE2 '.progress.bytes // 0')" -gt 600 ]; }
within "$patience" in_the_middle || fail 'the load does not begin'
order=$(api '/v1/orders?machine=LATHE2' | jq .orders[0].order)
kill -INT $command
status=0
wait $command || status=$?
expect 'status of yoke send after Ctrl-C' 4 "$status"
breaks LATHE2 cancelled upper
expect_in 'what yoke send says' 'channel upper, after' "$(tr '\n' ' ' <"$scratch/said")"
expect_in 'what yoke send says' SPLIT "$(cat "$scratch/said")"
restored LATHE2
sound
stop
