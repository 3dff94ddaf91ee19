# Goal: the vault cannot be written while an operator punches. A program is held until it can be kept and
# told; a call is followed when that is soon, and refused when nobody may wait for it any more. What
# came was dropped with a line in the log, and the control had let go of it.
. "$(dirname "$0")/shop.sh"
[ "$(id -u)" = 0 ] || skip 'mounting needs root'
settings settle_ms 100
mkdir -p "$home/vault"
mount -t tmpfs -o size=8m yoke-test "$home/vault" 2>/dev/null || skip 'a file system cannot be mounted here'
mounted=$home/vault
control LATHE1 --line-upper 0 --line-lower 0 --store "$scratch/LATHE1.store" --speed 115200
serial LATHE1
printf '[call]\nlisten = yes\n' >>"$home/machines/LATHE1.conf"
start
drop_pair J4417 C 4417
becomes released J4417 C
automatic LATHE1
carried J4417 C LATHE1
by_hand LATHE1
hears() { [ "$(of LATHE1 .listening)" = true ]; }
within "$patience" hears || fail "the machine is not listened to: $(api /v1/machines/LATHE1)"
dd if=/dev/zero of="$home/vault/filler" bs=4096 2>/dev/null || true
operator LATHE1 'punch lower 4417' >/dev/null
operator LATHE1 'wait punched lower 30' >/dev/null
operator LATHE1 'key upper 9999 "YOKE PROVEN J4417 REV C"' >/dev/null
operator LATHE1 'punch upper 9999' >/dev/null
operator LATHE1 'wait punched upper 30' >/dev/null
twice() { [ "$(grep -c 'what it punched could not be recorded' "$log")" = 2 ]; }
within "$patience" twice || fail "the log does not say that it could not be kept: $(cat "$log")"
expect_events 0 kind=proven
rm "$home/vault/filler"
machine_becomes LATHE1 'loaded J4417@C proven'
found() { [ "$(events kind=arrived | jq -r 'select(.outcome == "found") | .seq' | wc -l)" = 1 ]; }
within "$patience" found || fail "what was punched is not told: $(trail)"
sound
stop
