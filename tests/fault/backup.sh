# Goal: a shop loses its computer. What `yoke backup` wrote while the service ran makes the same trail on an
# empty one, and the machine gets its last good pair at once; nothing that waited goes by itself, nobody says
# what the machines hold, and the trail tells that it comes from a back-up. A damaged vault is repaired, and says
# what is lost; nothing is ever overwritten.
. "$(dirname "$0")/shop.sh"
settings settle_ms 100
share LATHE1
share LATHE2
start
mkdir "$scratch/safe"
for job in J4417 J4418; do
	drop_pair $job C "${job#J}"
	becomes released $job C
done
carried J4417 C LATHE1
yoke prove LATHE1 --note 'first part measured' >/dev/null
carried J4418 C LATHE2
hold
send J4417 C LATHE2 # it waits, and must not go from a back-up
waits=$order
within "$patience" held || fail 'no carrier was started'
yoke lock LATHE2 >/dev/null
let_go
order_becomes "$waits" queued

# Where a back-up is not written: over a file, into the home, into a folder that is not there.
refused_backup() { # FILE WANTED
	! yoke backup "$1" >"$scratch/said" 2>&1 || fail "yoke backup $1: $(cat "$scratch/said")"
	expect_in "yoke backup $1" "$2" "$(cat "$scratch/said")"
}
echo mine >"$scratch/safe/taken"
refused_backup "$scratch/safe/taken" 'there already'
expect 'the file that was there' mine "$(cat "$scratch/safe/taken")"
refused_backup "$home/copy" 'lost with the vault'
ln -s "$home" "$scratch/link"
refused_backup "$scratch/link/copy" 'lost with the vault'
refused_backup "$scratch/nowhere/copy" 'cannot be found'
expect_events 4 'kind=refused'

# Onto a disk that is too small: nothing is left of it.
mkdir "$scratch/small"
if mount -t tmpfs -o size=64k yoke-test "$scratch/small" 2>/dev/null; then
	mounted=$scratch/small
	refused_backup "$scratch/small/copy" 'full'
	expect 'what is left there' '' "$(ls -A "$scratch/small")"
	umount "$scratch/small"
	mounted=
fi
yoke status >"$scratch/said"
expect_in 'yoke status' 'last back-up: none' "$(cat "$scratch/said")"

# Programs come in while it is written.
(
	i=0
	while [ $i -lt 40 ]; do
		drop_pair "P$i" A $((i + 1))
		i=$((i + 1))
	done
) &
(cd "$scratch/safe" && yoke backup today) >"$scratch/said" || fail "yoke backup: $(cat "$scratch/said")"
wait $!
yoke status >"$scratch/status"
expect_in 'yoke status' "$scratch/safe/today: " "$(cat "$scratch/status")"
expect 'mode of the back-up' 600 "$(stat -c %a "$scratch/safe/today")"
head_then=$(sed -n 's/^head of the chain: //p' "$scratch/said")
events_then=$(sed -n 's/.*: \([0-9]*\) entries.*/\1/p' "$scratch/said")
expect 'the event' "done $scratch/safe/today: $events_then entries" \
	"$(events kind=backed-up | jq -r '.outcome + " " + .text' | cut -d , -f 1)"
expect 'what it tells' "$events_then $head_then" "$(events kind=backed-up | jq -r '[.detail.events, .detail.head] | map(tostring) | join(" ")')"
expect 'the head at that entry' "$head_then" "$(events | sed -n "${events_then}p" | jq -r .hash)"
within "$patience" idle || fail "the programs do not come in: $(api /v1/status)"

# A larger vault: the loop answers meanwhile, and a kill in the middle leaves nothing that looks like a back-up.
i=0
while [ $i -lt 6 ]; do
	head -c 6000000 /dev/urandom >"$scratch/large"
	expect 'an upload' 201 "$(ask POST /v1/programs --data-binary "@$scratch/large" -H 'Content-Type: application/octet-stream')"
	i=$((i + 1))
done
yoke backup "$scratch/safe/large" >"$scratch/said" 2>&1 &
writing=$!
asked=0 longest=0
while kill -0 $writing 2>/dev/null; do
	before=$(date +%s%N)
	expect 'status meanwhile' 200 "$(ask GET /v1/status)"
	took=$((($(date +%s%N) - before) / 1000000))
	asked=$((asked + 1))
	[ $took -le $longest ] || longest=$took
done
wait $writing || fail "yoke backup: $(cat "$scratch/said")"
echo "$(stat -c %s "$scratch/safe/large") bytes backed up; asked $asked times meanwhile, the longest answer took $longest ms"
[ $longest -lt 1500 ] || fail 'the service stood still while it wrote a back-up'
yoke backup "$scratch/safe/killed" >/dev/null 2>&1 &
writing=$!
within "$patience" test -s "$scratch/safe/killed.part" || fail 'no back-up was begun'
crash
wait $writing 2>/dev/null || true
[ ! -e "$scratch/safe/killed" ] || fail 'a back-up that was cut short has its name'
start
yoke backup "$scratch/safe/killed" >"$scratch/said" 2>&1 || fail "a second try: $(cat "$scratch/said")"
expect 'left beside the back-ups' 'killed large taken today' "$(ls "$scratch/safe" | tr '\n' ' ' | sed 's/ $//')"

# Not under a service's feet, and not over its vault.
! "$yoked" --home "$home" --restore-vault "$scratch/safe/today" >"$scratch/said" 2>&1 || fail 'restored under a service'
expect_in 'under a service' 'another yoked' "$(cat "$scratch/said")"
! "$yoked" --home "$home" --repair-vault >"$scratch/said" 2>&1 || fail 'repaired under a service'
expect_in 'under a service' 'another yoked' "$(cat "$scratch/said")"
sound
crash
! "$yoked" --home "$home" --restore-vault "$scratch/safe/today" >"$scratch/said" 2>&1 || fail 'restored over a vault'
expect_in 'over a vault' 'set-aside' "$(cat "$scratch/said")"

# The computer is gone; another one has the back-up and the configuration.
old=$home
home=$scratch/home2
YOKE_HOME=$home
mkdir "$home"
cp -r "$old/yoke.conf" "$old/machines" "$home/"
"$yoked" --home "$home" --restore-vault "$scratch/safe/today" >"$scratch/said" 2>&1 || fail "restore: $(cat "$scratch/said")"
expect_in 'restored' "$events_then entries" "$(cat "$scratch/said")"
expect_in 'its head' "$head_then" "$(cat "$scratch/said")"
programs=$home/programs
start
sound
expect 'the trail up to the back-up' "$head_then" "$(events | sed -n "${events_then}p" | jq -r .hash)"
expect 'how it goes on' "from-backup $events_then" "$(events | sed -n "$((events_then + 1))p" | jq -r '.kind + " " + (.detail.events | tostring)')"
expect 'the order that waited' cancelled "$(order_state "$waits")"
expect 'LATHE1' unknown "$(of LATHE1 .content)"
expect 'LATHE2' 'unknown locked' "$(of LATHE2 "$in_short" | sed 's/ @//')"
sleep 1.2 # longer than a turn of the service's clock
programs=$old/programs
expect_pair LATHE2 J4418 C
rm "$scratch"/LATHE1/CH*/*
yoke restore LATHE1 --yes >"$scratch/said" 2>&1 || fail "yoke restore: $(cat "$scratch/said")"
expect_pair LATHE1 J4417 C
expect_machine LATHE1 'loaded J4417@C read back proven'
sound
stop

# Onto the old computer, which runs again: its own vault is moved aside, whole.
home=$old
YOKE_HOME=$home
"$yoked" --home "$home" --restore-vault "$scratch/safe/today" --set-aside >"$scratch/said" 2>&1 || fail "restore: $(cat "$scratch/said")"
aside=$(sed -n 's/^the vault that was there: //p' "$scratch/said")
[ "$(sqlite3 -readonly "$aside" 'SELECT count(*) FROM event')" -gt "$events_then" ] || fail "what was there is not whole in $aside"
start
sound
within "$patience" idle || fail "the programs do not come in: $(api /v1/status)"
within "$patience" has_state released P39 A || fail 'what came after the back-up does not come in again from the folder'
stop

# A page of the vault is damaged, and its log is gone: both are named, and repaired as far as can be.
cp "$home/vault/yoke.db" "$scratch/good.db"
python3 - "$home/vault/yoke.db" <<'END'
import sqlite3, sys
db = sqlite3.connect(sys.argv[1])
page = db.execute("SELECT rootpage FROM sqlite_schema WHERE name='machine'").fetchone()[0]
db.close()
with open(sys.argv[1], "r+b") as f:
    f.seek((page - 1) * 4096)
    f.write(b"\x5a" * 4096)
END
refuses_to_start
expect_in 'a damaged vault' 'damaged' "$said"
before=$(sum "$home/vault/yoke.db")
"$yoked" --home "$home" --repair-vault >"$scratch/said" 2>&1 || fail "repair: $(cat "$scratch/said")"
expect_in 'a repair' 'lost: 0 entries, 0 programs, 0 checkpoints' "$(cat "$scratch/said")"
expect_in 'a repair' 'verifies' "$(cat "$scratch/said")"
expect 'the damaged file' "$before" "$(sum "$(sed -n 's/^the damaged one, as it was: //p' "$scratch/said")")"
start
sound
expect_events 1 kind=repaired
drop_pair J4420 A 4420
becomes released J4420 A
last=$(events | tail -n 1 | jq .seq)
crash
rm -f "$home/vault/yoke.db-wal" "$home/vault/yoke.db-shm"
refuses_to_start
expect_in 'a vault whose log is gone' 'were recorded and are missing' "$said"
"$yoked" --home "$home" --repair-vault >"$scratch/said" 2>&1 || fail "repair: $(cat "$scratch/said")"
grep -q "^lost: entries [0-9]* to $last of the trail" "$scratch/said" || fail "the lost entries are not named: $(cat "$scratch/said")"
start
sound
becomes released J4420 A
stop
