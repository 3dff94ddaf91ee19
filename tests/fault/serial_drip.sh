# Goal: a control that executes a program while it reads it gets it as slowly as it likes, block for
# block what was dropped, and stores nothing; what breaks off in the middle is never begun again by
# itself, whatever was killed, and is told with its block; what the machine holds stays as it was at
# every end; and where the machine's file, its line or the program does not allow it, it is refused.
. "$(dirname "$0")/shop.sh"
settings settle_ms 100
# A buffer of 300 characters, DC3 at 200 free, executed at 300 characters a second.
slow='--speed 19200 --buffer 300 --reserve 200 --drain 300'
control LATHE1 --line-upper 0 --line-lower 0 --store "$scratch/LATHE1.store" $slow
control LATHE2 --line 0 --store "$scratch/LATHE2.store" $slow
serial LATHE1 'drip = alone' 'read_back = punch' 'baud = 19200' 'reserve = 16' 'stall_ms = 500'
serial LATHE2 'drip = waits' 'baud = 19200' 'reserve = 16' 'stall_ms = 500'
share LATHE3
{
	printf '[line]\nkind = serial\naddress = %s\n' "$(line_of LATHE1 line-upper)"
} | machine LATHE4
start

# straight JOB REVISION NUMBER BLOCKS: a pair that meets nobody.
straight() {
	for channel in upper lower; do
		program "$1" "$2" $channel "$3" | awk -v n="$4" '
			/^M30/ { for (i = 0; i < n; i++) printf "N%d G1 X%d.5 Z-%d.5 F0.2\n", i + 1, i % 90, i % 300 }
			{ print }' >"$scratch/straight"
		mv "$scratch/straight" "$programs/$1-$2.$channel.nc"
	done
}
drop_pair J4417 C 4417
straight J5000 A 5000 30
straight J5001 A 5001 200
for channel in upper lower; do
	program J5002 A $channel 5002 | sed 's/^M30/N10 GOTO 20\nN20 G0 X1.\nM30/' >"$programs/J5002-A.$channel.nc"
done
becomes released J4417 C
for job in J5000 J5001 J5002; do becomes released $job A; done

# Something to hold, which no drip may touch.
automatic LATHE1
carried J4417 C LATHE1
by_hand LATHE1
loaded='loaded J4417@C read back'
expect_machine LATHE1 "$loaded"

body() { # JOB REVISION CHANNEL
	printf '{"job":"%s","revision":"%s","channel":"%s"}' "$@"
}

# --- What is refused, and why ---
refused 409 drip LATHE1/drip "$(body J4417 C upper)"
expect_in 'the refusal of a wait code' 'line 5: a wait code' "$(jq -r .text "$answer")"
expect_in 'the refusal of a wait code' 'drip = alone' "$(jq -r .text "$answer")"
refused 409 drip LATHE1/drip "$(body J5002 A lower)"
expect_in 'the refusal of a jump' 'line 4 (N10): a jump (GOTO)' "$(jq -r .text "$answer")"
refused 409 drip LATHE3/drip "$(body J5000 A upper)"
expect_in 'the refusal of a share' 'has a share' "$(jq -r .text "$answer")"
refused 409 drip LATHE4/drip "$(body J5000 A upper)"
expect_in 'the refusal of a control that does not' "'drip = no'" "$(jq -r .text "$answer")"
expect_in 'the refusal of a control that does not' "machine builder's manual" "$(jq -r .text "$answer")"
refused 400 no-channel LATHE1/drip "$(body J5000 A middle)"
refused 400 body LATHE1/drip '{"job":"J5000"}'
refused 404 no-pair LATHE1/drip "$(body J9999 A upper)"
yoke lock LATHE1 >/dev/null
refused 409 locked LATHE1/drip "$(body J5000 A upper)"
yoke unlock LATHE1 >/dev/null
expect_events 0 'kind=step&job=J5000'

# --- All of it ---
blocks_of() { # JOB: the blocks of its upper program
	grep -v '^%' "$programs/$1.upper.nc"
}
operator LATHE1 'drip upper' >/dev/null
yoke drip J5000 LATHE1 upper >"$scratch/said" 2>"$scratch/progress" || fail "yoke drip: $(cat "$scratch/said" "$scratch/progress")"
whole=$(tr '\n' ' ' <"$scratch/said")
expect_in 'yoke drip' 'order' "$whole"
expect_in 'yoke drip' 'J5000@A to machine LATHE1, channel upper' "$whole"
expect_in 'the caution' 'the axes in the middle of a cut' "$whole"
expect_in 'the caution' 'hand at feed hold' "$whole"
expect_in 'yoke drip' 'fed: all of the program went down the line' "$whole"
expect_in 'its progress' 'dripping: the control executes while it reads' "$(cat "$scratch/progress")"
expect_in 'its progress' 'it may take as long as it likes' "$(cat "$scratch/progress")"
operator LATHE1 'wait loaded upper 20' >"$scratch/loaded" || fail "the control did not execute it: $(cat "$scratch/loaded")"
executed() {
	operator LATHE1 'executed upper' | grep -v blocks
}
blocks_of J5000-A >"$scratch/blocks"
executed | cmp - "$scratch/blocks" || fail 'what was executed is not what was dropped'
expect 'blocks executed' "upper.executed $(wc -l <"$scratch/blocks")" "$(operator LATHE1 'figures upper' | grep executed)"
[ "$(operator LATHE1 'figures upper' | sed -n 's/^upper.dc3-sent //p')" -gt 0 ] || fail 'the control never held the line: this tests nothing'
expect_events 1 kind=fed
fed=$(events kind=fed)
expect 'what was fed' "upper $(sum "$programs/J5000-A.upper.nc")" "$(echo "$fed" | jq -r '.parts[] | .channel + " " + .after')"
order=$(echo "$fed" | jq -r .order)
expect 'its steps' feed "$(events kind=step | jq -r "select(.order == $order) | .outcome")"
expect 'the order' done "$(order_state "$order")"
expect_machine LATHE1 "$loaded"
expect_stored LATHE1 4417 J4417 C
operator LATHE1 list | grep -q O5000 && fail 'the control has stored what it executed'

# drip: J5001 to LATHE1, under way; its number is in $order.
connections() {
	grep -c 'line-upper: connected' "$scratch/LATHE1.bench"
}
fed_some() {
	[ "$(operator LATHE1 'figures upper' | sed -n 's/^upper.executed //p')" -gt 5 ] &&
		operator LATHE1 state | grep -q '^upper executes'
}
drip() {
	operator LATHE1 'drip upper' >/dev/null
	order LATHE1/drip "$(body J5001 A upper)"
	within "$patience" fed_some || fail "nothing is executed: $(whereabouts "$order")"
	connected=$(connections)
}

# not_again ERROR: the order ended so, in the middle, and is left alone; the machine is as it was.
not_again() {
	expect "the order that ended with $1" failed "$(outcome_of "$order")"
	told=$(events kind=kept | jq -r "select(.order == $order)")
	expect "how order $order ended" "$1" "$(echo "$told" | jq -r .outcome)"
	text=$(echo "$told" | jq -r .text)
	expect_in "the end with $1" 'nothing is begun again by itself' "$text"
	expect_in "the end with $1" 'yoke restart' "$text"
	expect_in "the end with $1" 'channel upper stops when its buffer is empty' "$text"
	expect_in 'yoke orders' 'nothing is begun again by itself' "$(yoke orders LATHE1 --all | tr -s '\n ' ' ')"
	expect_machine LATHE1 "$loaded"
	sleep 2.2 # longer than two turns of the service's clock
	no_open LATHE1 || fail "it waits again: $(api '/v1/orders?machine=LATHE1')"
	expect 'connections since' "$connected" "$(connections)"
}
says_where() {
	echo "$text" | grep -qE 'channel upper, after [1-9][0-9]* of [0-9]* bytes, in block [1-9][0-9]*: ' ||
		fail "where it stopped is not told: $text"
}

# --- Held for longer than stall_ms, locked meanwhile, and on ---
drip
operator LATHE1 'hold upper' >/dev/null
phase_is() { [ "$(of LATHE1 .progress.phase)" = "$1" ]; }
within "$patience" phase_is feed-held || fail "it is not held: $(of LATHE1 .progress)"
expect_in 'yoke machines' DRIPPING "$(yoke machines LATHE1)"
yoke lock LATHE1 >"$scratch/said"
expect_in 'yoke lock' 'a lock does not stop it' "$(tr '\n' ' ' <"$scratch/said")"
expect_in 'yoke lock' "yoke cancel $order" "$(tr '\n' ' ' <"$scratch/said")"
sleep 2 # four times stall_ms
phase_is feed-held || fail "it did not stay: $(api "/v1/orders/$order")"
yoke unlock LATHE1 >/dev/null
# Nothing else goes to the machine meanwhile.
drip_order=$order
send J4417 C LATHE1
expect 'an order behind it' queued "$(order_state "$order")"
ask POST "/v1/orders/$order/cancel" -d '{}' >/dev/null
order=$drip_order
operator LATHE1 'go upper' >/dev/null
expect 'the order that was held' done "$(outcome_of "$order")"
operator LATHE1 'wait loaded upper 30' >"$scratch/loaded" || fail "the control did not execute it: $(cat "$scratch/loaded")"
blocks_of J5001-A >"$scratch/blocks"
executed | cmp - "$scratch/blocks" || fail 'what was executed after the hold is not what was dropped'
expect_machine LATHE1 "$loaded"

# --- The line breaks in the middle ---
drip
operator LATHE1 'power off' >/dev/null
operator LATHE1 'power on' >/dev/null
not_again lost
says_where
expect_in 'the end by a broken line' 'the connection was lost' "$text"

# --- A person ends it ---
drip
yoke cancel "$order" >"$scratch/said"
expect_in 'yoke cancel' 'feed hold at the control is quicker' "$(tr '\n' ' ' <"$scratch/said")"
not_again cancelled
says_where
expect 'who ended it' "$me" "$(echo "$told" | jq -r .who)"

# --- Processes are killed in the middle ---
drip
kill -9 "$(carriers)"
not_again carrier
echo "$text" | grep -qE '^channel upper, after about [1-9][0-9]* of [0-9]* bytes, near block [1-9][0-9]*: ' ||
	fail "where it stopped is not told: $text"
drip
crash
start
not_again carrier
expect_in 'the end by a crash' 'cut short while the control executed' "$text"

# --- Before the first character a killed service begins again by itself ---
operator LATHE1 'reset upper' >/dev/null
order LATHE1/drip "$(body J5000 A upper)"
within "$patience" phase_is feed-wait || fail 'the order does not wait for the control'
# Locked while it waits, it goes back into the queue, as every order does.
yoke lock LATHE1 >/dev/null
order_becomes "$order" queued
yoke unlock LATHE1 >/dev/null
order_becomes "$order" carrying
within "$patience" phase_is feed-wait || fail 'the order does not wait for the control again'
crash
start
within "$patience" phase_is feed-wait || fail "the order does not wait for the control after the restart: $(trail)"
operator LATHE1 'drip upper' >/dev/null
expect 'the order after the restart' done "$(outcome_of "$order")"
expect_machine LATHE1 "$loaded"

# --- A control that does wait codes while it reads ---
operator LATHE2 'drip upper' >/dev/null
yoke drip J4417@C LATHE2 upper >"$scratch/said" 2>&1 || fail "yoke drip with wait codes: $(cat "$scratch/said")"
expect_in 'its caution' 'the program of lower of this pair and with no other' "$(tr '\n' ' ' <"$scratch/said")"
expect_in 'its caution' 'NOT what was carried there last' "$(tr '\n' ' ' <"$scratch/said")"
operator LATHE2 'wait loaded upper 20' >/dev/null || fail 'the control did not execute it'
blocks_of J4417-C >"$scratch/blocks"
operator LATHE2 'executed upper' | grep -v blocks | cmp - "$scratch/blocks" || fail 'what was executed is not what was dropped'
expect_machine LATHE2 'nothing @'
sound
stop
