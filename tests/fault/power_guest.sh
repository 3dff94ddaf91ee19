# Goal: in the guest: what the disk holds after its power was cut is checked, and a busy day begins on it, which ends with
# the next cut. What was answered goes out over the second serial line at once; what was answered before the cut is in
# /acks. usage: power_guest.sh BUILD
. /tests/fault/day.sh
long_blocks=3000 flush=yes upload=200000
patience=120
rm -rf "$scratch"
scratch=/tmp/shop
mkdir -p "$scratch" /mnt/home /mnt/LATHE1 /mnt/LATHE2
ln -s /mnt/LATHE1 "$scratch/LATHE1"
ln -s /mnt/LATHE2 "$scratch/LATHE2"
home=/mnt/home programs=/mnt/home/programs log=$scratch/yoked.log answer=$scratch/answer acks=/acks
YOKE_HOME=$home
mkdir -p "$home/machines"
: >"$log"
start() {
	"$yoked" --home "$home" --carrier "$build/daemon/yoke-carrier" >>"$log" 2>&1 &
	pid=$!
	within "$patience" answers || fail "yoked does not answer after $patience s: $(tail -n 3 "$log")"
	kill -0 "$pid" 2>/dev/null || fail "yoked did not start: $(tail -n 3 "$log")"
}
note() { # also to the host
	echo "$*" >/dev/ttyS1
}
[ -e "$home/yoke.conf" ] || { shop_opens && sync; }
mkdir -p "$programs/LATHE2"
start
: >"$scratch/pause"
within 120 all_quiet || fail "orders do not end: $(api /v1/orders)"
sound
no_half_pair
all_still_done
# SHA-256 sums have no blanks.
# shellcheck disable=SC2013
for one in $(sed -n 's/^program //p' "$acks"); do
	expect 'a program that was taken' "$one" "$(api "/v1/programs/$one" | sha256sum | cut -d ' ' -f 1)"
done
clean_log
rm "$scratch/pause"
echo "CASE check: good, $(printf %s "$verified" | jq .events) entries, $(grep -c '' "$acks") words" >/dev/console
if [ -e /last ]; then
	stop
	exit 0
fi
first=$(sed -n 's/^released D//p' "$acks" | sort -n | tail -n 1)
work_begins "$((${first:-0} + 10))"
echo WORKING >/dev/console
wait "$day"
