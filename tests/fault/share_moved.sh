# Goal: an order was cut short, and the machine's share is another one when the service starts again: what lies on
# that share says nothing of the order. The machine is unknown, until the old share is there again or a person
# has looked. It was said to hold what it held before, after a look into a folder that the order had never seen.
. "$(dirname "$0")/shop.sh"
settings settle_ms 100
share LATHE1
start
drop_long J4417 C 4417 20000
becomes released J4417 C

# The first pair of the machine: nothing is expected on either share.
rm -f "$scratch/struck"
"$build/tests/fault/strike" "$home/yoke.sock" "$pid" both '"step"' 3 0 >"$scratch/struck" &
striker=$!
within "$patience" grep -q following "$scratch/struck" || fail 'strike does not follow'
send J4417 C LATHE1
cut=$order
wait $striker || fail "the step did not come: $(trail)"
wait "$pid" 2>/dev/null || true
pid=
mkdir -p "$scratch/OTHER/CH1" "$scratch/OTHER/CH2"
: >"$scratch/OTHER/HERE"
sed -i "s|^root = .*|root = $scratch/OTHER|" "$home/machines/LATHE1.conf"
start
quiet LATHE1
expect 'what is known of LATHE1' unknown "$(of LATHE1 .content)"
expect 'the order' failed "$(outcome_of "$cut")"
expect 'what lies on the other share' './HERE' "$(cd "$scratch/OTHER" && find . -type f)"

# A pair that is sent there makes it known again.
carried J4417 C LATHE1
sound
stop
