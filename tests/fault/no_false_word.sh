# Goal: nothing is said of a machine that was not seen there, and no order is forgotten without a
# person's word. Each part has the story of a fault.
. "$(dirname "$0")/shop.sh"
settings settle_ms 100 incomplete_s 2
share LATHE1
share LATHE2 'on_release = carry'
control LATHE3 --line-upper 0 --line-lower 0 --store "$scratch/LATHE3.store" --speed 9600
serial LATHE3 'read_back = none' 'baud = 9600' 'first_ms = 0'
start
for revision in C D; do
	drop_pair J4417 $revision 4417
	becomes released J4417 $revision
done
text_of() { api "/v1/orders/$1" | jq -r .text; }
carried J4417 C LATHE1
yoke prove LATHE1 >/dev/null
upper=$(on LATHE1 upper J4417) lower=$(on LATHE1 lower J4417)

# Of a fetch only one channel came, and it had been changed: the machine was 'read back proven' still.
sed -i 's/F0.2/F0.4/' "$upper"
mv "$lower" "$scratch/aside"
mkdir "$lower"
order LATHE1/fetch
expect 'a fetch of which one channel cannot be read' failed "$(outcome_of "$order")"
expect_machine LATHE1 'loaded J4417@C drift'
refused 409 drift LATHE1/prove

# The changed program is deleted, and the send does not go through: neither is the old pair held.
rmdir "$lower"
mv "$scratch/aside" "$lower"
carried J4417 C LATHE1
expect_machine LATHE1 'loaded J4417@C read back proven'
rm "$upper"
mv "$lower" "$scratch/aside"
mkdir "$lower"
send J4417 D LATHE1
expect 'a send to a folder' failed "$(outcome_of "$order")"
expect_machine LATHE1 'loaded J4417@C drift'
expect_in 'the drift' 'upper is no longer there' "$(events 'kind=drift&machine=LATHE1' | tail -n 1 | jq -r .text)"
rmdir "$lower"
carried J4417 C LATHE1
expect_tidy LATHE1

# Held while its carrier is on the way: it went, since only the start of the order had asked.
hold
send J4417 D LATHE1
within "$patience" held || fail 'no carrier was started'
cp "$programs/J4417-D.lower.nc" "$scratch/good"
program J4417 D lower 4417 201 203 >"$programs/J4417-D.lower.nc"
becomes held J4417 D
let_go
expect 'order for a pair that is held now' failed "$(outcome_of "$order")"
expect_in 'why' held "$(text_of "$order")"
expect_pair LATHE1 J4417 C
expect_machine LATHE1 'loaded J4417@C read back proven'
expect_tidy LATHE1
cp "$scratch/good" "$programs/J4417-D.lower.nc"
becomes released J4417 D

# Held in the machine's own folder: the pair of that name for all machines went in its place.
program J4417 D upper 4417 201 >"$programs/LATHE1/J4417-D.upper.nc"
becomes held J4417 D LATHE1
refused 409 held LATHE1/send '{"job":"J4417","revision":"D"}'
carried J4417 D LATHE2
carried J4417 C LATHE2

# The carrier is told to end while it waits for the control: the order was 'cancelled', by nobody.
send J4417 C LATHE3
waits() { [ "$(of LATHE3 .progress.phase)" = wait ]; }
within "$patience" waits || fail "LATHE3 does not wait for its control: $(trail)"
kill -TERM "$(carriers)"
expect 'order whose carrier was told to end' failed "$(outcome_of "$order")"
expect_in 'why' 'nobody cancelled' "$(text_of "$order")"
expect_machine LATHE3 'nothing @'
# Cancelled by a person: it is told who that was.
send J4417 C LATHE3
within "$patience" waits || fail "LATHE3 does not wait for its control: $(trail)"
expect 'cancelling' 200 "$(ask POST "/v1/orders/$order/cancel" -d '{}')"
expect 'the order' cancelled "$(outcome_of "$order")"
expect 'who cancelled it' "$me" "$(events kind=cancelled | tail -n 1 | jq -r .who)"

# An order of the service's own breaks off in the middle and all is old again: it was forgotten.
for who in carrier stop; do
	revision=$([ $who = carrier ] && echo A || echo B)
	long J5020 $revision lower 5020 20000 >"$programs/LATHE2/J5020-$revision.lower.nc"
	rm -f "$scratch/struck"
	"$build/tests/fault/strike" "$home/yoke.sock" "$pid" $who '"outcome":"replace"' 1 0 >"$scratch/struck" &
	striker=$!
	within "$patience" grep -q following "$scratch/struck" || fail 'strike does not follow'
	long J5020 $revision upper 5020 20000 >"$programs/LATHE2/J5020-$revision.upper.nc"
	wait $striker || fail "the step did not come: $(trail)"
	if [ $who = stop ]; then
		wait "$pid" || fail 'yoked does not end in order'
		pid=
		start
	fi
	machine_becomes LATHE2 "loaded J5020@$revision read back"
	quiet LATHE2
done

# The carrier of such an order is killed before its first step: it was forgotten too.
hold
drop_pair J7040 A 7040 LATHE2
within "$patience" held || fail 'no carrier was started'
kill -9 "$(carriers)"
rm "$scratch/gate.shut"
machine_becomes LATHE2 'loaded J7040@A read back'

# An older revision comes late, as from a stick: it went over the newer one by itself.
long J5020 '01' upper 5020 10 | sed 's/REV 01/REV A1/' >"$programs/LATHE2/J5020-A1.upper.nc"
long J5020 '01' lower 5020 10 | sed 's/REV 01/REV A1/' >"$programs/LATHE2/J5020-A1.lower.nc"
becomes released J5020 A1 LATHE2
expect_in 'what is told of it' 'there is a revision B' "$(events 'kind=refused&machine=LATHE2' | tail -n 1 | jq -r .text)"
sleep 1.2 # longer than a turn of the service's clock
expect_machine LATHE2 'loaded J7040@A read back'
carried J5020 A1 LATHE2

# The machine has three channels now: of the last good pair two went there, and the third stayed. The
# order was queued before; after it the pair is no last good pair any more.
hold
order LATHE1/restore
within "$patience" held || fail "no carrier was started: $(trail)"
crash
rm "$scratch/gate.shut"
printf '[programs]\nchannels = upper lower third\n[line third]\nfolder = CH1\n' >>"$home/machines/LATHE1.conf"
start
expect_events 1 'kind=unproven&machine=LATHE1'
expect 'a restore for other channels' failed "$(outcome_of "$order")"
expect_in 'why' 'programs for 2 channels, and machine LATHE1 has 3' "$(text_of "$order")"
refused 409 no-good-pair LATHE1/restore

# The power goes in mid-load; before the next start the machine got a share in place of its line. The
# empty share was taken for the old state of the control.
drop_long J6030 A 6030 60
becomes released J6030 A
operator LATHE3 'auto read upper on' >/dev/null
send J6030 A LATHE3
going() { [ "$(of LATHE3 '.progress.bytes // 0')" -gt 200 ]; }
within "$patience" going || fail "the load does not begin: $(trail)"
crash
share LATHE3
start
expect 'the order that was cut short' failed "$(outcome_of "$order")"
expect_machine LATHE3 'unknown @'
carried J6030 A LATHE3
expect_machine LATHE3 'loaded J6030@A read back'
sound
stop
