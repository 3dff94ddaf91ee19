# Goal: the carrier, yoked, or both are killed in the middle of a load over a serial line. Nobody can
# look into the control then: the machine is unknown, also after the restart, never loaded, and
# nothing goes there by itself; a fetch of what is still the old pair, or sending again, ends that. A
# kill before the first character changes nothing.
. "$(dirname "$0")/shop.sh"
settings settle_ms 100
control LATHE1 --line-upper 0 --line-lower 0 --store "$scratch/LATHE1.store" --speed 19200
serial LATHE1 'read_back = none' 'baud = 19200' 'on_release = carry'
start
drop_pair J4417 C 4417
drop_long J4417 D 4417 60
for revision in C D; do becomes released J4417 $revision; done
automatic LATHE1
carried J4417 C LATHE1
expect_stored LATHE1 4417 J4417 C
yoke prove LATHE1 >/dev/null
kills=0

# strike WHO TEXT OCCURRENCE MICROSECONDS: see kill_share.sh. yoked is started again when it is gone.
strike() {
	rm -f "$scratch/struck"
	"$build/tests/fault/strike" "$home/yoke.sock" "$pid" "$@" >"$scratch/struck" &
	striker=$!
	within "$patience" grep -q following "$scratch/struck" || fail 'strike does not follow'
	send J4417 D LATHE1
	wait $striker || fail "the event $2 did not come: $(trail)"
	struck=$(sed -n 2p "$scratch/struck")
	[ "$struck" -gt 0 ] || fail "nothing was killed at $2 $3"
	kills=$((kills + struck))
	if [ "$1" != carrier ]; then
		wait "$pid" 2>/dev/null || true
		pid=
		start
	fi
}

number=5020
for who in carrier yoked both; do
	# 1: the upper program is under way. 2: the lower one, when the upper has arrived whole.
	for step in 1 2; do
		strike $who '"step"' $step 200000
		expect "the order of which the $who was killed at step $step" failed "$(outcome_of "$order")"
		expect "LATHE1 when the $who was killed at step $step" unknown "$(of LATHE1 .content)"
		refused 409 not-loaded LATHE1/prove
		expect_in 'yoke machines' UNKNOWN "$(yoke machines)"
		expect 'last good pair' 'J4417@C' "$(of LATHE1 '.last_good.job + "@" + .last_good.revision')"
		if [ $step = 1 ]; then
			# What the service would do by itself waits; across a restart too.
			number=$((number + 1))
			drop_pair J$number A $number LATHE1
			becomes released J$number A LATHE1
			[ $who != yoked ] || { crash; start; }
			sleep 1.2 # longer than a turn of the service's clock
			expect 'the order of the service itself' queued "$(api '/v1/orders?machine=LATHE1' | jq -r .orders[0].state)"
			expect 'LATHE1 still' unknown "$(of LATHE1 .content)"
			own=$(api '/v1/orders?machine=LATHE1' | jq -r .orders[0].order)
			ask POST "/v1/orders/$own/cancel" -d '{}' >/dev/null
			order_becomes "$own" cancelled
		fi
		by_hand LATHE1
		automatic LATHE1
		yoke restore LATHE1 --yes >/dev/null 2>&1 || fail 'yoke restore'
		expect_machine LATHE1 'loaded J4417@C proven'
		expect_stored LATHE1 4417 J4417 C
	done
done

# Before the first character: the machine holds what it held. A killed yoked begins again by itself.
for who in carrier yoked both; do
	by_hand LATHE1
	strike $who '"carrying"' 1 200000
	expect_machine LATHE1 'loaded J4417@C proven'
	if [ $who = carrier ]; then
		expect 'an order whose carrier was killed before it began' failed "$(outcome_of "$order")"
	else
		automatic LATHE1
		expect 'the order after the restart' done "$(outcome_of "$order")"
		expect_stored LATHE1 4417 J4417 D
		yoke restore LATHE1 --yes >/dev/null 2>&1 || fail 'yoke restore'
	fi
	expect_machine LATHE1 'loaded J4417@C proven'
	expect_stored LATHE1 4417 J4417 C
done

# The operator takes the old pair from a memory card and punches it: certain again, without a send.
automatic LATHE1
strike carrier '"step"' 1 100000
outcome_of "$order" >/dev/null
expect 'LATHE1 once more' unknown "$(of LATHE1 .content)"
upper_port=$(line_of LATHE1 line-upper) lower_port=$(line_of LATHE1 line-lower)
operator LATHE1 quit >/dev/null
wait "$bench_LATHE1" || true
for channel in upper lower; do
	cp "$programs/J4417-C.$channel.nc" "$scratch/LATHE1.store/$channel/O4417.nc"
done
control LATHE1 --line-upper "${upper_port##*:}" --line-lower "${lower_port##*:}" --battery "$scratch/LATHE1.store" --speed 19200
order LATHE1/fetch
for channel in upper lower; do
	listens() { [ "$(of LATHE1 .progress.channel)$(of LATHE1 .progress.phase)" = "${channel}punch" ]; }
	within "$patience" listens || fail "the fetch does not wait for $channel"
	operator LATHE1 "punch $channel" >/dev/null
done
expect 'the fetch' done "$(outcome_of "$order")"
expect_machine LATHE1 'loaded J4417@C read back proven'
[ "$kills" -ge 9 ] || fail "only $kills processes were killed"
sound
stop
