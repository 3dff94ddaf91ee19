# Goal: a share that does not take the second program, is full, has lost its marker or is not mounted
# leaves the machine with all of the old pair; nothing is written into an empty mount point; and an
# order that the service made by itself is tried again when the share is back.
. "$(dirname "$0")/shop.sh"
[ "$(id -u)" = 0 ] || skip 'mounting needs root'
settings settle_ms 100
share LATHE1
share LATHE2 'on_release = carry'
mount -t tmpfs -o size=64k yoke-test "$scratch/LATHE2" 2>/dev/null || skip 'a file system cannot be mounted here'
mounted=$scratch/LATHE2
dress() { # the share's folders and marker
	mkdir "$scratch/LATHE2/CH1" "$scratch/LATHE2/CH2"
	: >"$scratch/LATHE2/HERE"
}
dress
start
drop_pair J4417 C 4417
drop_pair J4417 D 4417
becomes released J4417 C
becomes released J4417 D

# what WANTED-ERROR: how the order failed; "kept" in the trail, and in words for a person.
fails() {
	expect "order that cannot end well ($1)" failed "$(outcome_of "$order")"
	expect "error of order $order" "$1" "$(events kind=kept | jq -r "select(.order == $order) | .outcome")"
}

# A folder where the second program should go: nothing is begun, on an empty machine and later.
mkdir "$(on LATHE1 lower J4417)"
send J4417 C LATHE1
fails name
expect_machine LATHE1 'nothing @'
[ ! -e "$(on LATHE1 upper J4417)" ] || fail 'one program of two was put there'
expect_tidy LATHE1
rmdir "$(on LATHE1 lower J4417)"
carried J4417 C LATHE1

# The first rename is done, the second refused (a mount point cannot be replaced: rename(2), EBUSY):
# the first is put back.
lower=$(on LATHE1 lower J4417)
mount --bind "$lower" "$lower" || fail 'a file cannot be mounted'
mounted="$mounted $lower"
send J4417 D LATHE1
fails busy
expect 'steps of an order whose second rename is refused' 'write replace replace put-back' \
	"$(events kind=step | jq -r "select(.order == $order) | .outcome" | tr '\n' ' ' | sed 's/ $//')"
expect_pair LATHE1 J4417 C
expect_machine LATHE1 'loaded J4417@C read back'
expect_in 'what is told' 'put back' "$(api "/v1/orders/$order" | jq -r .text)"
status=0
yoke send J4417@D LATHE1 >"$scratch/said" 2>&1 || status=$?
expect 'status of yoke send' 4 "$status"
expect_in 'yoke send' 'put back' "$(cat "$scratch/said")"
umount "$lower"
mounted=$scratch/LATHE2
expect_tidy LATHE1
carried J4417 D LATHE1
expect_pair LATHE1 J4417 D

# The marker is missing: offline, told once, and not a byte is written.
rm "$scratch/LATHE1/HERE"
cp -a "$scratch/LATHE1" "$scratch/as-it-was"
for round in 1 2; do
	send J4417 C LATHE1
	fails marker
	expect_machine LATHE1 'loaded J4417@D read back offline'
done
expect_events 1 'kind=offline&machine=LATHE1'
diff -r "$scratch/as-it-was" "$scratch/LATHE1" || fail 'something was written without the marker'
expect_in 'yoke machines' offline "$(yoke machines LATHE1 | tr A-Z a-z)"
: >"$scratch/LATHE1/HERE"
carried J4417 C LATHE1
expect_machine LATHE1 'loaded J4417@C read back'
expect_events 1 'kind=online&machine=LATHE1'

# The share goes away in the middle of an order: what is there when it comes back is all of one pair,
# the one that the machine is said to hold, and the mount point has stayed empty.
share LATHE3
rm -r "$scratch/LATHE3"/* && mkdir "$scratch/server"
mkdir "$scratch/server/CH1" "$scratch/server/CH2" && : >"$scratch/server/HERE"
stop
start
drop_long J6001 A 6001 20000
drop_long J6001 B 6001 20000
becomes released J6001 A
becomes released J6001 B
mount --bind "$scratch/server" "$scratch/LATHE3"
carried J6001 A LATHE3
umount "$scratch/LATHE3"
for step in 1 2 3; do
	mount --bind "$scratch/server" "$scratch/LATHE3"
	mounted="$scratch/LATHE2 $scratch/LATHE3"
	rm -f "$scratch/moment"
	"$build/tests/fault/strike" "$home/yoke.sock" "$pid" nobody '"step"' $step 0 >"$scratch/moment" &
	moment=$!
	within "$patience" grep -q following "$scratch/moment" || fail 'strike does not follow'
	was=$(of LATHE3 .revision) revision=A
	[ "$was" != A ] || revision=B
	send J6001 $revision LATHE3
	wait $moment || fail "step $step did not come: $(trail)"
	umount -l "$scratch/LATHE3"
	mounted=$scratch/LATHE2
	outcome_of "$order" >/dev/null
	expect 'files in the mount point' '' "$(find "$scratch/LATHE3" -mindepth 1)"
	mount --bind "$scratch/server" "$scratch/LATHE3"
	within "$patience" holds_pair LATHE3 J6001 "$(of LATHE3 .revision)" ||
		fail "after step $step: machine '$(of LATHE3 "$in_short")', share: $(find "$scratch/server" -type f -exec sha256sum {} +); $(trail)"
	umount "$scratch/LATHE3"
done

# A full disk, met at the first program and at the second: all old, and no stump.
carried J4417 C LATHE2
for blocks in '4000 10' '1000 2000'; do
	number=42${blocks%%[!1-9]*}
	long J$number A upper $number ${blocks% *} >"$programs/J$number-A.upper.nc"
	long J$number A lower $number ${blocks#* } >"$programs/J$number-A.lower.nc"
	becomes released J$number A
	cp -a "$scratch/LATHE2" "$scratch/as-it-was$number"
	send J$number A LATHE2
	fails space
	diff -r "$scratch/as-it-was$number" "$scratch/LATHE2" || fail 'a full share does not hold what it held'
	expect_machine LATHE2 'loaded J4417@C read back'
done

# The share is not mounted when a pair is released for its machine: the order stays, nothing goes
# into the empty mount point, not even at the retry, and it is carried when the share is back.
umount "$scratch/LATHE2"
mounted=
rm "$scratch/LATHE2/HERE"
drop_pair J5020 A 5020 LATHE2
appears 'kind=offline&machine=LATHE2'
waiting=$(api '/v1/orders?machine=LATHE2' | jq -r '.orders[] | [.order, .state, .job] | join(" ")')
expect_in 'the order that waits' 'queued J5020' "$waiting"
expect 'files in the empty mount point' '' "$(find "$scratch/LATHE2" -type f)"
twice() { [ "$(count_events 'kind=kept&machine=LATHE2&job=J5020')" -ge 2 ]; }
within "$patience" twice || fail "the order is not tried again: $(trail)"
expect 'files in the empty mount point after the retry' '' "$(find "$scratch/LATHE2" -type f)"
expect_events 1 'kind=offline&machine=LATHE2'
mount -t tmpfs yoke-test "$scratch/LATHE2"
mounted=$scratch/LATHE2
dress
order_becomes "${waiting%% *}" done
for channel in upper lower; do
	expect "the late $channel" "$(sum "$programs/LATHE2/J5020-A.$channel.nc")" "$(sum "$(on LATHE2 $channel J5020)")"
done
machine_becomes LATHE2 'loaded J5020@A read back'
expect_events 1 'kind=online&machine=LATHE2'
expect_tidy LATHE2
sound
stop
