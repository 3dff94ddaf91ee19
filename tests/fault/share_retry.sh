# Goal: an order to a share that is away, or to a machine that runs, waits and is tried again until it
# can be done, says so meanwhile, lets those go before it that replace nothing, survives a restart and can be cancelled;
# what cannot pass by itself fails at once; and after retry_s it fails.
. "$(dirname "$0")/shop.sh"
settings settle_ms 100
share LATHE1 'retry_s = 60'
share LATHE2 'retry_s = 4'
printf '[running]\nfile = RUNS\n' >>"$home/machines/LATHE1.conf"
start
drop_pair J4417 C 4417
drop_pair J4417 D 4417
becomes released J4417 C
becomes released J4417 D
away() { rm "$scratch/$1/HERE"; }
back() { : >"$scratch/$1/HERE"; }
again() { [ "$(events "kind=kept&machine=LATHE1" | jq -r 'select(.outcome == "again") | .seq' | wc -l)" -ge "$1" ]; }

# Away: it waits, and goes when the share is back; the command follows it all the way.
away LATHE1
"$build/cli/yoke" send J4417@C LATHE1 >"$scratch/said" 2>&1 &
command=$!
within "$patience" again 1 || fail "the order is not tried again: $(trail)"
within "$patience" again 2 || fail "it is tried once only: $(trail)"
expect 'the order while the share is away' queued "$(api '/v1/orders?machine=LATHE1' | jq -r '.orders[0].state')"
back LATHE1
status=0
wait $command || status=$?
expect 'status of yoke send' 0 "$status"
expect_in 'what it said meanwhile' 'it is tried again in' "$(cat "$scratch/said")"
expect_pair LATHE1 J4417 C

# The machine runs: nothing is replaced until it stands; a fetch goes meanwhile.
: >"$scratch/LATHE1/RUNS"
send J4417 D LATHE1
runs=$order
waits() { again 3 && order_is "$runs" queued; }
within "$patience" waits || fail "the order does not wait for the machine: $(trail)"
expect_pair LATHE1 J4417 C
order LATHE1/fetch
expect 'a fetch meanwhile' done "$(outcome_of "$order")"
# Across a restart it waits too.
stop
start
rm "$scratch/LATHE1/RUNS"
expect 'the order that waited' done "$(outcome_of "$runs")"
expect_pair LATHE1 J4417 D

# Cancelled while it waits.
away LATHE1
send J4417 C LATHE1
within "$patience" again 4 || fail 'the order does not wait'
yoke cancel "$order" >/dev/null
order_becomes "$order" cancelled
back LATHE1
expect_pair LATHE1 J4417 D

# Two that wait for the same share each keep their pause. They took it away from each other, with a new
# window each time: a share that was away filled the trail with fifty tries a second, for ever.
away LATHE1
before=$(count_events 'kind=kept&machine=LATHE1')
send J4417 C LATHE1
first=$order
send J4417 D LATHE1
sleep 5
tries=$(($(count_events 'kind=kept&machine=LATHE1') - before))
{ [ "$tries" -ge 2 ] && [ "$tries" -le 6 ]; } || fail "two orders that wait were tried $tries times in 5 s"
yoke cancel "$first" >/dev/null
back LATHE1
expect 'the other one' done "$(outcome_of "$order")"
expect_pair LATHE1 J4417 D

# The last one sent is the last one carried. The share was back within the pause of the first: the second went
# before it, was told as done, and seconds later the first, which nobody thought of any more, went over it.
away LATHE1
before=$(count_events 'kind=kept&machine=LATHE1')
send J4417 C LATHE1
first=$order
more() { [ "$(count_events 'kind=kept&machine=LATHE1')" -gt "$before" ]; }
within "$patience" more || fail 'the order does not wait'
back LATHE1
send J4417 D LATHE1
expect 'the second of two' done "$(outcome_of "$order")"
expect 'the first of two' done "$(outcome_of "$first")"
expect_pair LATHE1 J4417 D

# After its time it fails; what no waiting can mend fails at once.
away LATHE2
send J4417 C LATHE2
expect 'the order at last' failed "$(outcome_of "$order")"
back LATHE2
mkdir "$scratch/LATHE2/CH1/J4417_upper.NC"
before=$(count_events 'kind=kept&machine=LATHE2')
send J4417 C LATHE2
expect 'an order onto a folder' failed "$(outcome_of "$order")"
expect 'its tries' $((before + 1)) "$(count_events 'kind=kept&machine=LATHE2')"

# A carrier that died before it changed anything says nothing of the machine: the order is tried again.
# It failed at once, although one of the service's own would have gone again.
tries=$(count_events 'kind=kept&machine=LATHE1')
hold
send J4417 C LATHE1
within "$patience" held || fail 'no carrier was started'
kill -KILL "$(carriers)"
expect 'the order whose carrier died' done "$(outcome_of "$order")"
expect 'its tries' $((tries + 1)) "$(count_events 'kind=kept&machine=LATHE1')"
expect_pair LATHE1 J4417 C
rm -f "$scratch/gate.shut"
sound
stop
