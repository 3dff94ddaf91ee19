# Goal: with on_release = carry a released pair goes over a serial line when the control asks with
# DC1, and not before; it waits while the machine is locked; and the setting `reserve` keeps a
# control with a small buffer from being overrun, which without it happens and is told.
. "$(dirname "$0")/shop.sh"
settings settle_ms 100
control LATHE1 --line-upper 0 --line-lower 0 --store "$scratch/LATHE1.store" --speed 115200
serial LATHE1 'read_back = punch' 'on_release = carry'
# A buffer of 200 characters, DC3 at 120 free, emptied at half the line's rate; 4096 characters of a
# device server's own below the sender, which still come after DC3 ("The control is overrun").
small='--speed 9600 --buffer 200 --reserve 120 --drain 400 --fifo 4096'
control LATHE2 --line 0 --store "$scratch/LATHE2.store" $small
control LATHE3 --line 0 --store "$scratch/LATHE3.store" $small
serial LATHE2 'read_back = punch' 'baud = 9600' 'reserve = 16'
serial LATHE3 'read_back = punch' 'baud = 9600' 'reserve = 4096' 'read_back_ms = 2000' 'stall_ms = 5000'
start

drop_pair J4417 C 4417 LATHE1
becomes released J4417 C LATHE1
waits() { [ "$(of LATHE1 .progress.phase)" = wait ] && [ "$(of LATHE1 .progress.channel)" = "$1" ]; }
within "$patience" waits upper || fail "the released pair does not wait for the control: $(trail)"
operator LATHE1 state | grep -q 'upper rests connected' || fail "the line is not open: $(operator LATHE1 state)"
expect_events 0 kind=step

# Locked while it waits: the line is given back; unlocked, it waits again.
yoke lock LATHE1 >/dev/null
set_back() { [ "$(api '/v1/orders?machine=LATHE1' | jq -r .orders[0].state)" = queued ]; }
within "$patience" set_back || fail "the order does not go back into the queue: $(trail)"
unconnected() { operator LATHE1 state | grep -q 'upper rests unconnected'; }
within "$patience" unconnected || fail 'the line of a locked machine is still held'
expect_machine LATHE1 'nothing @ locked'
yoke unlock LATHE1 >/dev/null
within "$patience" waits upper || fail 'the order does not wait again'

# What a person asks for goes first; the other waits, and comes back.
drop_pair J5020 A 5020
becomes released J5020 A
send J5020 A LATHE1
order_becomes "$order" carrying
expect 'the order of the service itself' queued \
	"$(api '/v1/orders?machine=LATHE1' | jq -r '.orders[] | select(.job == "J4417") | .state')"
ask POST "/v1/orders/$order/cancel" -d '{}' >/dev/null
order_becomes "$order" cancelled
within "$patience" waits upper || fail 'the order does not wait again'
expect 'the pair that waits' J4417 "$(api '/v1/orders?machine=LATHE1' | jq -r .orders[0].job)"

# The control asks: each program when its channel does.
operator LATHE1 'read upper' >/dev/null
operator LATHE1 'wait loaded upper 20' >/dev/null || fail "upper is not loaded: $(operator LATHE1 state)"
within "$patience" waits lower || fail "the lower program does not wait for its control: $(trail)"
expect_events 1 kind=step
operator LATHE1 'read lower' >/dev/null
operator LATHE1 'wait loaded lower 20' >/dev/null || fail 'lower is not loaded'
punch_of() { [ "$(of LATHE1 .progress.phase)" = punch ] && [ "$(of LATHE1 .progress.channel)" = "$1" ]; }
for channel in upper lower; do
	within "$patience" punch_of $channel || fail "the order does not wait for the copy of $channel"
	operator LATHE1 "punch $channel" >/dev/null
	operator LATHE1 "wait punched $channel 20" >/dev/null
done
machine_becomes LATHE1 'loaded J4417@C read back'
for channel in upper lower; do
	expect "the stored $channel" "$(sum "$programs/LATHE1/J4417-C.$channel.nc")" \
		"$(sum "$scratch/LATHE1.store/$channel/O4417.nc")"
done
expect 'who carried it' 'service (on_release = carry)' "$(of LATHE1 .by)"

# The small buffer.
drop_long J5021 A 5021 40
becomes released J5021 A
automatic LATHE2
automatic LATHE3
send J5021 A LATHE3
first=$order
carried J5021 A LATHE2
expect_stored LATHE2 5021 J5021 A
expect_machine LATHE2 'loaded J5021@A read back'
for channel in upper lower; do
	operator LATHE2 "figures $channel" >"$scratch/figures"
	expect "characters of $channel that the buffer lost" 0 "$(sed -n "s/^$channel.overrun //p" "$scratch/figures")"
	[ "$(sed -n "s/^$channel.dc3-sent //p" "$scratch/figures")" -gt 0 ] || fail 'DC3 was never sent: this tests nothing'
done
outcome_of "$first" >/dev/null
[ "$(operator LATHE3 'figures upper' | sed -n 's/^upper.overrun //p')" -gt 0 ] || fail 'without reserve nothing was overrun: this tests nothing'
case $(of LATHE3 "$in_short") in
*'read back'*) fail "LATHE3 was overrun and is called read back: $(trail)" ;;
esac
expect_events 0 'kind=read-back&machine=LATHE3'
sound
stop
