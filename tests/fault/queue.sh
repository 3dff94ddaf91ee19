# Goal: orders wait their turn and are kept: for a locked machine and for a busy one, across a
# restart; a waiting and a running order can be cancelled; nothing reaches a machine that is locked
# meanwhile; and what is held meanwhile does not go.
. "$(dirname "$0")/shop.sh"
settings settle_ms 100 incomplete_s 2
share LATHE1
share LATHE2 'on_release = carry'
start
mkdir -p "$programs/LATHE2"
for revision in C D E; do
	drop_pair J4417 $revision 4417
	becomes released J4417 $revision
done

# A busy machine queues; the orders go in their turn.
hold
send J4417 C LATHE1
first=$order
within "$patience" held || fail 'no carrier was started'
send J4417 D LATHE1
second=$order
send J4417 E LATHE1
third=$order
expect 'orders while one is under way' 'carrying queued queued' \
	"$(for o in $first $second $third; do order_state $o; done | tr '\n' ' ' | sed 's/ $//')"

# The last one is put first, which it stays although another one was asked for before.
yoke next "$third" >/dev/null || fail 'yoke next'
waits() { api '/v1/orders?machine=LATHE1' | jq -r '[.orders[] | select(.state == "queued") | .order] | join(" ")'; }
expect 'the orders that wait' "$third $second" "$(waits)"
expect 'who moved it' "$third" "$(events kind=moved | jq -r .order)"
refused_next() { ask POST "/v1/orders/$1/next" -d '{}'; }
expect 'moving the order under way' 409 "$(refused_next "$first")"
expect 'moving no order' 404 "$(refused_next 1000000)"

# A waiting order is cancelled; then the running one, before anything was changed.
expect 'cancelling a waiting order' 200 "$(ask POST "/v1/orders/$third/cancel" -d '{}')"
expect 'the waiting order' cancelled "$(order_state "$third")"
expect 'cancelling it again' 409 "$(ask POST "/v1/orders/$third/cancel" -d '{}')"
expect 'cancelling no order' 404 "$(ask POST /v1/orders/1000000/cancel -d '{}')"
expect 'cancelling what is no number' 400 "$(ask POST /v1/orders/x/cancel -d '{}')"
expect 'cancelling a running order' 200 "$(ask POST "/v1/orders/$first/cancel" -d '{}')"
let_go
expect 'the running order' cancelled "$(outcome_of "$first")"
expect 'the order behind it' done "$(outcome_of "$second")"
expect_pair LATHE1 J4417 D
expect_machine LATHE1 'loaded J4417@D read back'
expect_events 1 'kind=carried'

# Ctrl-C at the command: cancelled, and it says what the machine holds.
hold
"$build/cli/yoke" send J4417@E LATHE1 >"$scratch/said" 2>&1 &
command=$!
within "$patience" held || fail 'no carrier was started'
kill -INT $command
asked() { grep -q -i cancel "$scratch/said"; }
within "$patience" asked || fail "yoke send after Ctrl-C: $(cat "$scratch/said")"
let_go
status=0
wait $command || status=$?
expect 'status of a cancelled yoke send' 4 "$status"
expect_in 'what the machine holds' 'J4417@D' "$(cat "$scratch/said")"
expect_pair LATHE1 J4417 D

# Locked while its order is under way, but has changed nothing yet: the order does not go on, and
# stays; also across a power cut; unlock starts it.
hold
send J4417 C LATHE1
within "$patience" held || fail 'no carrier was started'
yoke lock LATHE1 --note 'jaws off' >/dev/null
let_go
order_becomes "$order" queued
expect_pair LATHE1 J4417 D
expect_machine LATHE1 'loaded J4417@D read back locked'
drop_pair J5020 A 5020 LATHE2
becomes released J5020 A LATHE2
machine_becomes LATHE2 'loaded J5020@A read back'
yoke lock LATHE2 >/dev/null
drop_pair J5020 B 5020 LATHE2
becomes released J5020 B LATHE2
crash
start
sleep 1.2 # longer than a turn of the service's clock
expect 'the order of a locked machine after a restart' queued "$(order_state "$order")"
expect 'orders that wait for LATHE2' 'queued J5020@B' \
	"$(api '/v1/orders?machine=LATHE2' | jq -r '.orders[] | .state + " " + .job + "@" + .revision')"
expect_machine LATHE1 'loaded J4417@D read back locked'
expect_machine LATHE2 'loaded J5020@A read back locked'
yoke unlock LATHE1 >/dev/null
expect 'the order after unlock' done "$(outcome_of "$order")"
expect_pair LATHE1 J4417 C

# A newer revision comes in while the older one is being carried: both arrive, in order.
hold
yoke unlock LATHE2 >/dev/null
within "$patience" held || fail 'unlock does not start the queue'
drop_pair J5020 C 5020 LATHE2
becomes released J5020 C LATHE2
expect 'the two orders' 'carrying B queued C' \
	"$(api '/v1/orders?machine=LATHE2' | jq -r '.orders | sort_by(.order)[] | .state + " " + .revision' | tr '\n' ' ' | sed 's/ $//')"
let_go
machine_becomes LATHE2 'loaded J5020@C read back'
expect 'what LATHE2 was given' 'A B C' "$(events 'kind=carried&machine=LATHE2' | jq -r .revision | tr '\n' ' ' | sed 's/ $//')"

# A pair that is held before its turn comes does not go.
yoke lock LATHE2 >/dev/null
drop_pair J5020 D 5020 LATHE2
becomes released J5020 D LATHE2
waiting=$(api '/v1/orders?machine=LATHE2' | jq .orders[0].order)
program J5020 D lower 5020 201 203 >"$programs/LATHE2/J5020-D.lower.nc"
becomes held J5020 D LATHE2
yoke unlock LATHE2 >/dev/null
expect 'order for a pair that was held meanwhile' failed "$(outcome_of "$waiting")"
expect_in 'why' held "$(api "/v1/orders/$waiting" | jq -r .text)"
expect_machine LATHE2 'loaded J5020@C read back'
sound
stop
