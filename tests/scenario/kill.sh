# Goal: yoked is killed again and again while it takes in many files. After each start the trail is
# whole, and in the end every file is in the vault exactly once, each pair decided once, with its
# verdict beside it.
. "$(dirname "$0")/lib.sh"

pairs=1200 kills=8
if grep -qa __asan_init "$yoked"; then pairs=150; fi
settings settle_ms 100
mkdir -p "$programs"
i=0
while [ $i -lt $pairs ]; do
	drop_pair "K$i" A $((i + 1))
	i=$((i + 1))
done
# One of several pieces, so that the power also goes in the middle of a program.
{
	printf '%%\nO9001 (JOB LARGE REV A UPPER)\nM201\n'
	yes 'G1 X10.123 Z-2.5 F0.2' | head -c 22000000
	printf 'M30\n%%\n'
} >"$programs/LARGE-A.upper.nc"
program LARGE A lower 9001 201 >"$programs/LARGE-A.lower.nc"
: >"$scratch/first"
find "$programs" -name '*.nc' -exec sha256sum {} + | cut -d ' ' -f 1 | sort >"$scratch/want"

arrivals() {
	sqlite3 -readonly -cmd '.timeout 10000' "$home/vault/yoke.db" "SELECT count(*) FROM event WHERE kind='arrived'" 2>/dev/null || echo 0
}
passes() { # so many arrivals
	gone || [ "$(arrivals)" -gt "$1" ]
}

# Killed at once after the start, and then a little later each time; always before the end.
killed=0
seen=0
step=$((2 * pairs / (kills + 1)))
while [ $killed -lt $kills ]; do
	start
	sound
	now=$(api /v1/status | jq .folder.waiting)
	[ "$killed" -eq 0 ] || within "$patience" passes $((killed * step)) || fail "no progress past $((killed * step)): $now wait"
	crash
	killed=$((killed + 1))
	last=$seen
	seen=$(arrivals)
	[ "$seen" -ge "$last" ] || fail "$last programs had arrived before the crash, $seen after it"
done
echo "killed $killed times; $seen of $((2 * pairs + 2)) programs had arrived before the last"

start
all_in() {
	idle && [ "$(arrivals)" = $((2 * pairs + 2)) ]
}
within 60 all_in || fail "not all programs arrived: $(arrivals) of $((2 * pairs + 2)), $(api /v1/status)"
sound
expect 'released pairs' $((pairs + 1)) "$(api /v1/jobs | jq '[.jobs[] | select(.state == "released")] | length')"
query() {
	sqlite3 -readonly "$home/vault/yoke.db" "$1"
}
expect 'paths that arrived more than once' '' \
	"$(query "SELECT text FROM event WHERE kind='arrived' GROUP BY text HAVING count(*) > 1")"
expect 'pairs that were released more than once' '' \
	"$(query "SELECT job FROM event WHERE kind='released' GROUP BY job HAVING count(*) > 1")"
query 'SELECT lower(hex(sha)) FROM program WHERE sha IS NOT NULL' | sort >"$scratch/kept"
cmp "$scratch/want" "$scratch/kept" || fail 'the vault does not hold exactly the programs of the folder'
expect 'pieces of programs that were not ended' 0 "$(query 'SELECT count(*) FROM program WHERE sha IS NULL')"
expect 'starts in the trail' $((kills + 1)) "$(query "SELECT count(*) FROM event WHERE kind='started'")"

# The verdict of every pair, also of those that were decided just before a crash.
verdicts() {
	[ "$(cat "$programs"/.yoke/*.txt | grep -c ': released$')" = $((pairs + 1)) ]
}
verdicts || fail "verdicts that say released: $(cat "$programs"/.yoke/*.txt | grep -c ': released$') of $((pairs + 1))"
[ "$(find "$programs/.yoke" -name '*.part' | wc -l)" -le $kills ] || fail 'parts of verdicts are left behind'
stop

# A verdict that is lost is made again at the next start, without an event.
events_before=$(query 'SELECT count(*) FROM event')
rm "$programs/.yoke/K7-A.txt" "$programs/.yoke/K8-A.json"
echo old >"$programs/.yoke/K9-A.txt"
start
within "$patience" verdicts || fail 'verdicts that were lost are not made again'
within "$patience" test -s "$programs/.yoke/K8-A.json" || fail 'a report that was lost is not made again'
within "$patience" idle || fail "the scan does not come to an end: $(api /v1/status)"
expect 'events' $((events_before + 1)) "$(query 'SELECT count(*) FROM event')"
stop
