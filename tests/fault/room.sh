# Goal: before the disk of the vault is full that is told: in the trail once, on the error output, in `yoke status` and
# `yoke machines`; and its end too, once.
. "$(dirname "$0")/shop.sh"
[ "$(id -u)" = 0 ] || skip 'mounting needs root'
mkdir -p "$home/vault"
mount -t tmpfs -o size=60m yoke-test "$home/vault" 2>/dev/null || skip 'a file system cannot be mounted here'
mounted=$home/vault
settings settle_ms 100 room_warn_mb 20
share LATHE1
start
told() { [ "$(events | jq -r 'select(.kind | startswith("room-")) | .kind' | tr '\n' ' ')" = "$1" ]; }
told '' || fail "told although there is room: $(trail)"
expect 'low' false "$(api /v1/status | jq .room.low)"
head -c 45000000 /dev/zero >"$home/vault/filler"
within 15 told 'room-low ' || fail "not told: $(api /v1/status)"
grep -q 'MB left: make room' "$log" || fail 'nothing on the error output'
for verb in status machines; do
	yoke $verb >"$scratch/said"
	expect_in "yoke $verb" '!! the disk of the vault has' "$(cat "$scratch/said")"
done
# Work goes on as long as it can be recorded, and a start does not tell it again.
drop_pair J4417 C 4417
becomes released J4417 C
carried J4417 C LATHE1
stop
start
told 'room-low ' || fail "told again: $(trail)"
# A little more is not enough to tell the end; so it does not come and go.
head -c 41800000 /dev/zero >"$home/vault/filler"
sleep 6
told 'room-low ' || fail "told at the edge: $(api /v1/status); $(trail)"
rm "$home/vault/filler"
within 15 told 'room-low room-again ' || fail "the end is not told: $(trail)"
yoke machines >"$scratch/said"
! grep -q '^!!' "$scratch/said" || fail 'yoke machines still warns'
sound
stop
