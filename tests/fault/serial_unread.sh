# Goal: where the machine's file asks for a read-back and the copy does not come, the pair counts as
# carried and not read back, and the order has failed and says so: it was "done", and the command
# ended well, although nothing had been compared.
. "$(dirname "$0")/shop.sh"
settings settle_ms 100
control LATHE1 --line-upper 0 --line-lower 0 --store "$scratch/LATHE1.store" --speed 115200
serial LATHE1 'read_back = punch' 'read_back_ms = 1500'
control LATHE2 --line-upper 0 --line-lower 0 --store "$scratch/LATHE2.store" --speed 115200
serial LATHE2 'read_back = punch' 'read_back_ms = 1500' 'on_release = carry'
start
drop_pair J4417 C 4417
becomes released J4417 C
drop_long J5020 A 5020 800
becomes released J5020 A
loads() { # NAME: the operator sets the channels to read, when each is waited for
	for c in upper lower; do
		waited() { [ "$(of "$1" .progress.channel)" = "$2" ] && [ "$(of "$1" .progress.phase)" = wait ]; }
		within "$patience" waited "$1" $c || fail "nobody waits for $c of $1: $(api "/v1/machines/$1")"
		operator "$1" "read $c" >/dev/null
	done
}
punch_of() { [ "$(of "$1" .progress.phase)" = punch ] && [ "$(of "$1" .progress.channel)" = "$2" ]; }
punches() { # NAME CHANNEL: when its copy is waited for
	within "$patience" punch_of "$@" || fail "nobody waits for the copy of $2: $(api "/v1/machines/$1")"
	operator "$1" "punch $2" >/dev/null
}

# unread ERROR CHANNELS: the order failed so, and nothing of these was compared.
unread() {
	expect "the order without its copy ($1)" failed "$(outcome_of "$order")"
	told=$(events 'kind=carried&machine=LATHE1' | jq -r "select(.order == $order)")
	expect "its outcome" "$1" "$(echo "$told" | jq -r .outcome)"
	text=$(echo "$told" | jq -r .text)
	expect_in 'what is told' "not read back: nothing of $2 was compared" "$text"
	expect_in 'what to do' 'yoke fetch LATHE1' "$text"
	expect 'read-back events of the order' 0 "$(events kind=read-back | jq "select(.order == $order)" | wc -l)"
}

# Nobody punches.
"$build/cli/yoke" send J4417@C LATHE1 >"$scratch/said" 2>&1 &
command=$!
loads LATHE1
status=0
wait $command || status=$?
expect 'status of yoke send without a copy' 4 "$status"
said=$(tr -s '\n ' ' ' <"$scratch/said")
expect_in 'yoke send' 'failed: carried, not read back: nothing of upper and lower was compared' "$said"
expect_in 'yoke send' 'not read back, not proven' "$said"
order=$(events kind=carried | jq -r .order)
unread nothing 'upper and lower'
expect_machine LATHE1 'loaded J4417@C'
expect_stored LATHE1 4417 J4417 C
# What to do about it does it.
order LATHE1/fetch
punches LATHE1 upper
punches LATHE1 lower
expect 'the fetch' done "$(outcome_of "$order")"
expect_machine LATHE1 'loaded J4417@C read back'

# One of the two is punched, and equal.
send J4417 C LATHE1
loads LATHE1
punches LATHE1 upper
unread nothing lower
expect_machine LATHE1 'loaded J4417@C'

# Somebody cancels while the copy is waited for: the pair is in the control by then.
send J4417 C LATHE1
loads LATHE1
within "$patience" punch_of LATHE1 upper || fail "nobody waits for a copy: $(trail)"
expect 'cancelling it' 200 "$(ask POST "/v1/orders/$order/cancel" -d '{}')"
unread cancelled 'upper and lower'
expect_machine LATHE1 'loaded J4417@C'

# The connection goes in the middle of the copy.
send J5020 A LATHE1
loads LATHE1
punches LATHE1 upper
begun() { [ "$(of LATHE1 .progress.phase)" = receive ]; }
within "$patience" begun || fail "the copy does not begin: $(trail)"
operator LATHE1 'power off' >/dev/null
unread lost 'upper and lower'
expect_machine LATHE1 'loaded J5020@A'
operator LATHE1 'power on' >/dev/null

# A copy that breaks off says that something is wrong with the line: what the control holds is not
# known then.
send J5020 A LATHE1
loads LATHE1
punches LATHE1 upper
within "$patience" begun || fail "the copy does not begin: $(trail)"
operator LATHE1 'reset upper' >/dev/null
expect 'an order whose copy is cut off' failed "$(outcome_of "$order")"
expect_machine LATHE1 'unknown @'

# An order of the service's own is not tried again: the machine has the pair.
drop_pair J7040 A 7040 LATHE2
becomes released J7040 A LATHE2
loads LATHE2
machine_becomes LATHE2 'loaded J7040@A'
quiet LATHE2
expect 'orders for LATHE2' 'send J7040@A failed' \
	"$(api '/v1/orders?machine=LATHE2&open=no' | jq -r '.orders[] | .act + " " + .job + "@" + .revision + " " + .state')"
sound
stop
