# Goal: over a serial line both channels arrive with exactly the dropped bytes, by two lines and by
# one; what the control punches is compared, and only then called read back; nothing is sent before
# the control asks; and what differs, or is read with the wrong framing, is told.
. "$(dirname "$0")/shop.sh"
settings settle_ms 100
# Controls that do the next thing at once: a copy is punched while our last characters still leave.
fast='--speed 115200 --pause 0'
control LATHE1 --line-upper 0 --line-lower 0 --store "$scratch/LATHE1.store" $fast
control LATHE2 --line 0 --store "$scratch/LATHE2.store" $fast
control LATHE3 --line-upper 0 --line-lower 0 --store "$scratch/LATHE3.store" $fast
serial LATHE1 'read_back = punch' 'leader = 20' 'trailer = 20'
serial LATHE2 'read_back = punch'
serial LATHE3 'read_back = none'
start
for revision in C D; do
	drop_pair J4417 $revision 4417
	becomes released J4417 $revision
done
automatic LATHE1
automatic LATHE2
automatic LATHE3

# Two lines, one line, and a control that cannot punch.
yoke send J4417@C LATHE1 >"$scratch/said" 2>&1 || fail "yoke send: $(cat "$scratch/said")"
expect_stored LATHE1 4417 J4417 C
expect_machine LATHE1 'loaded J4417@C read back'
expect_in 'yoke send' 'read back' "$(cat "$scratch/said")"
carried J4417 C LATHE2
expect_stored LATHE2 4417 J4417 C
expect_machine LATHE2 'loaded J4417@C read back'
carried J4417 C LATHE3
expect_stored LATHE3 4417 J4417 C
expect_machine LATHE3 'loaded J4417@C'
expect_events 0 'kind=read-back&machine=LATHE3'
expect 'steps of a serial order' 'transmit transmit' \
	"$(events 'kind=step&machine=LATHE3' | jq -r .outcome | tr '\n' ' ' | sed 's/ $//')"

# A control that never asks: the order waits and says for what, nothing is changed, and it can be
# cancelled.
by_hand LATHE1
send J4417 D LATHE1
waits() { [ "$(of LATHE1 .progress.phase)" = wait ]; }
within "$patience" waits || fail "the order does not wait for the control: $(api /v1/machines/LATHE1)"
sleep 0.5
waits || fail 'something was sent before the control asked'
expect 'steps before the control asked' 0 "$(events kind=step | jq -r "select(.order == $order) | .outcome" | wc -l)"
expect_in 'yoke machines while it waits' 'set it to read' "$(yoke machines LATHE1 | tr '\n' ' ')"
expect 'cancelling it' 200 "$(ask POST "/v1/orders/$order/cancel" -d '{}')"
expect 'the order' cancelled "$(outcome_of "$order")"
expect_machine LATHE1 'loaded J4417@C read back'
expect_stored LATHE1 4417 J4417 C

# A character is lost on the way: what is punched differs, and the pair is not called loaded.
automatic LATHE1
operator LATHE1 'drop 40 lower' >/dev/null
status=0
yoke send J4417@D LATHE1 >"$scratch/said" 2>&1 || status=$?
expect 'status of yoke send when the copy differs' 4 "$status"
expect_in 'yoke send' 'lower differs from what was sent' "$(tr '\n' ' ' <"$scratch/said")"
expect 'what is known of LATHE1' split "$(of LATHE1 .content)"
expect_in 'yoke machines' SPLIT "$(yoke machines)"
copy=$(events 'kind=split&machine=LATHE1' | jq -r '.parts[] | select(.channel == "lower") | .after')
api "/v1/programs/$copy" >"$scratch/copy"
cmp "$scratch/LATHE1.store/lower/O4417.nc" "$scratch/copy" ||
	fail 'what the control holds in the lower channel is not in the vault'
# Sending again puts it right.
carried J4417 D LATHE1
expect_stored LATHE1 4417 J4417 D
expect_machine LATHE1 'loaded J4417@D read back'
sound
stop
