# Goal: a clock that is set back by a day or forward by a year, while the service runs and while it does not, is told in
# the trail; nothing stands still for it, and the trail verifies.
. "$(dirname "$0")/shop.sh"
! grep -qa __asan_init "$yoked" || skip 'a sanitizer does not let the clock be replaced'
shim=$build/tests/fault/libyoke_shim.so
echo 0 >"$scratch/clock"
start() {
	LD_PRELOAD=$shim YOKE_SHIM_CLOCK=$scratch/clock "$yoked" --home "$home" --carrier "$scratch/yoke-carrier" >>"$log" 2>&1 &
	pid=$!
	within "$patience" answers || fail "yoked does not answer after $patience s"
}
steps() { events kind=clock-stepped | jq -r '.outcome + ": " + .text'; }
stepped() { [ "$(count_events kind=clock-stepped)" = "$1" ]; }
settings settle_ms 100
share LATHE1 'retry_s = 600'
start
sleep 2.2 # two turns of the service's clock
stepped 0 || fail "a clock that was not set: $(steps)"

echo -86400 >"$scratch/clock"
within 10 stepped 1 || fail 'a clock that was set back is not told'
expect_in 'set back' 'back: the clock was set back by 1 d; it would be ' "$(steps)"
drop_pair J4417 C 4417
becomes released J4417 C
carried J4417 C LATHE1

echo 31449600 >"$scratch/clock" # 364 days; from a day behind, that is 365 forward
within 10 stepped 2 || fail 'a clock that was set forward is not told'
expect_in 'set forward' 'set forward by 365 d' "$(steps | tail -n 1)"
drop_pair J4417 D 4417
becomes released J4417 D
# An order that waits for its share does not give up because a year has gone by.
mv "$scratch/LATHE1/HERE" "$scratch/LATHE1/GONE"
send J4417 D LATHE1
sleep 1.5
echo 62899200 >"$scratch/clock"
within 10 stepped 3 || fail 'the second step forward is not told'
mv "$scratch/LATHE1/GONE" "$scratch/LATHE1/HERE"
expect 'the order across a year' done "$(outcome_of "$order")"
expect_pair LATHE1 J4417 D
stop

# While nobody looks: behind the last entry.
echo 0 >"$scratch/clock"
start
expect 'steps after a start with an earlier clock' 4 "$(count_events kind=clock-stepped)"
expect_in 'behind the last entry' 'behind the last entry of the trail' "$(steps | tail -n 1)"
sleep 2.2
stepped 4 || fail "told again: $(steps)"
drop_pair J4417 E 4417
becomes released J4417 E
carried J4417 E LATHE1
sound
stop
