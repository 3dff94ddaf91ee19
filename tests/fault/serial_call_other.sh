# Goal: the operator calls for a pair and sets the control to read at once. That DC1 belongs to the order
# that his call made: another order that is put before it waits for a DC1 of its own. It got his, and
# brought its own programs into a control whose operator had asked for others. And a program whose
# comment begins like a call is no call, and is kept all the same: only the refusal was told.
. "$(dirname "$0")/shop.sh"
settings settle_ms 100
control LATHE1 --line-upper 0 --line-lower 0 --store "$scratch/LATHE1.store" --speed 115200 --ask-dc1 once
serial LATHE1
printf '[call]\nlisten = yes\n' >>"$home/machines/LATHE1.conf"
start
drop_pair J4417 C 4417
drop_pair J4417 D 4417
becomes released J4417 C
becomes released J4417 D
for c in upper lower; do
	long J7000 A $c 7000 5000 | sed '/^O7000/a (YOKE LEFT SIDE)' >"$scratch/long"
	mv "$scratch/long" "$programs/J7000-A.$c.nc"
done
becomes released J7000 A
send J7000 A LATHE1
for c in upper lower; do
	waited() { [ "$(of LATHE1 .progress.channel)" = $c ] && [ "$(of LATHE1 .progress.phase)" = wait ]; }
	within "$patience" waited || fail "nobody waits for $c: $(api /v1/machines/LATHE1)"
	operator LATHE1 "read $c" >/dev/null
done
expect 'the long pair' done "$(outcome_of "$order")"
hears() { [ "$(of LATHE1 .listening)" = true ]; }
within "$patience" hears || fail "the machine is not listened to: $(api /v1/machines/LATHE1)"

# Lower punches for ten seconds, and so long no order begins.
operator LATHE1 'punch lower 7000' >/dev/null
sleep 0.5
operator LATHE1 'key upper 9999 "YOKE BRING J4417 REV D"' >/dev/null
operator LATHE1 'punch upper 9999' >/dev/null
operator LATHE1 'wait punched upper 30' >/dev/null
operator LATHE1 'read upper' >/dev/null
one() { [ "$(api '/v1/orders?machine=LATHE1' | jq '.orders | length')" = 1 ]; }
within "$patience" one || fail "the call is no order: $(trail)"
called=$(api '/v1/orders?machine=LATHE1' | jq '.orders[0].order // .orders[0].id')
expect 'the order of the call' queued "$(order_state "$called")"
send J4417 C LATHE1
yoke next "$order" >/dev/null
waits() { [ "$(of LATHE1 .progress.order)" = "$order" ] && [ "$(of LATHE1 .progress.phase)" = wait ]; }
within "$patience" waits || fail "the order that was put first does not begin: $(api /v1/machines/LATHE1); $(trail)"
sleep 4
waits || fail "an order that nobody called for went over the line: $(api /v1/machines/LATHE1); $(trail)"
expect 'its steps' 0 "$(events kind=step | jq -r "select(.order == $order) | .seq" | wc -l)"

# The order took its turn, and the long text was heard to its end before: kept, and told twice.
found=$(events kind=arrived | jq -r 'select(.outcome == "found") | .parts[0].after' | tail -n 1)
api "/v1/programs/$found" | grep -q 'YOKE LEFT SIDE' || fail "the program with a mark was not kept: $(trail)"
expect 'that it is no call' call "$(events kind=refused | tail -n 1 | jq -r .outcome)"
yoke cancel "$order" >/dev/null
yoke cancel "$called" >/dev/null
quiet LATHE1
sound
stop
