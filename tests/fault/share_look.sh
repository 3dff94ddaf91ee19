# Goal: what somebody changes on a machine's share is told as drift by itself, with its difference by
# meaning and without an invented name, once, also across a restart; when the old text is back the
# machine is read back; a share that goes away is offline, and nothing is said to be deleted.
. "$(dirname "$0")/shop.sh"
settings settle_ms 100
share LATHE1 'look_s = 1'
start
drop_pair J4417 C 4417
becomes released J4417 C
carried J4417 C LATHE1
expect_machine LATHE1 'loaded J4417@C read back'
upper=$(on LATHE1 upper J4417)
cp "$upper" "$scratch/kept"

sed -i 's/F0.2$/F0.3/' "$upper"
machine_becomes LATHE1 'loaded J4417@C drift'
expect 'the drift' 'upper feed' "$(events kind=drift | jq -r '.detail.changes[] | .channel + " " + .kind' | sort -u)"
expect 'who changed it' 'not known: somebody at the machine' "$(events kind=drift | jq -r .who)"
expect_in 'in words' 'F0.3' "$(of LATHE1 .text)"
expect 'kept' "$(sum "$upper")" "$(events kind=drift | jq -r '.parts[0].after')"
api "/v1/programs/$(sum "$upper")" | cmp - "$upper" || fail 'the changed program is not in the vault'

# Told once: not at every look, and not once more after a restart.
stop
start
sleep 2.5
expect_events 1 kind=drift

# Another edit is another drift; the old text back ends it.
sed -i 's/F0.3$/F0.4/' "$upper"
twice() { [ "$(count_events kind=drift)" = 2 ]; }
within "$patience" twice || fail "the second edit is not told: $(trail)"
cp "$scratch/kept" "$upper"
machine_becomes LATHE1 'loaded J4417@C read back'

# Line ends are no change of meaning.
sed 's/$/\r/' "$scratch/kept" >"$scratch/crlf"
cp "$scratch/crlf" "$upper"
sleep 2.5
expect_machine LATHE1 'loaded J4417@C read back'
cp "$scratch/kept" "$upper"

# The share goes, and comes back.
mv "$scratch/LATHE1" "$scratch/server"
mkdir -p "$scratch/LATHE1/CH1" "$scratch/LATHE1/CH2"
machine_becomes LATHE1 'loaded J4417@C read back offline'
rm -r "$scratch/LATHE1"
mv "$scratch/server" "$scratch/LATHE1"
machine_becomes LATHE1 'loaded J4417@C read back'
expect_events 2 kind=drift

# One program is removed: that is no empty share.
rm "$upper"
machine_becomes LATHE1 'loaded J4417@C drift'
expect_in 'what is gone' 'upper is no longer there' "$(of LATHE1 .text)"

# An order goes before a look, and looks go on behind it.
carried J4417 C LATHE1
expect_machine LATHE1 'loaded J4417@C read back'
sed -i 's/F0.2$/F0.5/' "$(on LATHE1 lower J4417)"
machine_becomes LATHE1 'loaded J4417@C drift'
expect 'the channel' lower "$(events kind=drift | tail -n 1 | jq -r '.parts[0].channel')"

# Both channels, one after the other, and a restart: each was told, and is not told again. Only the
# newest drift was looked at, which is the other channel's: each restart and each order told both anew.
carried J4417 C LATHE1
lower=$(on LATHE1 lower J4417)
cp "$lower" "$scratch/kept.lower"
before=$(count_events kind=drift)
drifts() { [ "$(count_events kind=drift)" = $((before + $1)) ]; }
sed -i 's/F0.2$/F0.6/' "$upper"
within "$patience" drifts 1 || fail "the edit of upper is not told: $(trail)"
sed -i 's/F0.2$/F0.6/' "$lower"
within "$patience" drifts 2 || fail "the edit of lower is not told: $(trail)"
stop
start
sleep 5
expect_events $((before + 2)) kind=drift

# Put right while nobody looked: the next look ends the drift, which stayed until the next order.
stop
cp "$scratch/kept" "$upper"
cp "$scratch/kept.lower" "$lower"
start
machine_becomes LATHE1 'loaded J4417@C read back'
expect_tidy LATHE1
sound
stop
