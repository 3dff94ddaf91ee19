# Goal: when the disk of the vault is full, what cannot be recorded is refused in words and nothing of
# it is half there; reading goes on, and once there is space everything is taken in by itself.
. "$(dirname "$0")/lib.sh"
mount -t tmpfs -o size=8m yoke "$home" 2>/dev/null || skip 'a small file system cannot be mounted'
mounted=$home
programs=$scratch/programs
mkdir "$programs"

fill_disk() {
	head -c 100000000 /dev/zero >"$home/filler" 2>/dev/null || true
	while printf x >>"$home/filler2" 2>/dev/null; do :; done
}

free_disk() {
	rm -f "$home/filler" "$home/filler2"
}

says() {
	grep -q "$1" "$log"
}

settings settle_ms 100 programs "$programs"
mkdir -p "$home/machines" "$scratch/share"
printf '[line]\nkind = directory\nroot = %s\n' "$scratch/share" >"$home/machines/M.conf"
start
drop_pair J4417 C 4417
becomes released J4417 C
expect 'locking' 200 "$(ask POST /v1/machines/M/lock)"
before=$(events)

fill_disk
i=0
while [ $i -lt 300 ]; do # more than are taken in one transaction
	drop_pair "P$i" A $((i + 1))
	i=$((i + 1))
done
within "$patience" says 'no space is left' || fail 'the full disk is not told'
expect 'status while the disk is full' 200 "$(ask GET /v1/status)"
most_wait() {
	[ "$(api /v1/status | jq .folder.waiting)" -ge 500 ]
}
within "$patience" most_wait || fail "the programs should wait: $(api /v1/status)"
expect 'unlocking while the disk is full' 500 "$(ask POST /v1/machines/M/unlock)"
expect_in 'unlocking while the disk is full' 'no space is left' "$(jq -r .text "$answer")"
expect 'the lock' true "$(api /v1/machines/M | jq .locked)"
expect 'the trail while the disk is full' "$before" "$(events)"
expect 'a pair that came too late' 404 "$(ask GET /v1/jobs/P0)"
expect 'a pair from before' released "$(state_of J4417 C)"
sha=$(pair_of J4417 C | jq -r '.parts[] | select(.channel == "upper") | .sha256')
expect 'its bytes' "$sha" "$(api "/v1/programs/$sha" | sha256sum | cut -d ' ' -f 1)"
lines=$(wc -l <"$log")
[ "$lines" -lt 200 ] || fail "$lines lines of messages about one full disk"

free_disk
all_released() {
	[ "$(api /v1/jobs | jq '[.jobs[] | select(.state == "released")] | length')" = 301 ]
}
within "$patience" all_released || fail "not all pairs are released once there is space: $(api /v1/status) $(trail)"
expect_events 602 kind=arrived
expect 'unlocking' 200 "$(ask POST /v1/machines/M/unlock)"
sound

# A program that is larger than the space that is left waits; the others do not wait for it.
{
	printf '%%\nO4418 (JOB J4418 REV A UPPER)\nM201\n'
	yes 'X10. Z-2.' | head -c 20000000
	printf 'M30\n%%\n'
} >"$scratch/large"
mv "$scratch/large" "$programs/J4418-A.upper.nc"
within "$patience" says 'J4418-A.upper.nc: no space is left for it' || fail 'the program that is too large is not told'
for job in J4420 J4421 J4422; do
	drop_pair $job A "${job#J}"
	becomes released $job A
done
expect_events 0 job=J4418
sound
mount -o remount,size=64m "$home"
within "$patience" has_event kind=arrived\&job=J4418 || fail "the large program does not arrive once there is space: $(trail)"

# The power goes while the disk is full, and the next start meets a full disk too: it serves, if the
# log still has room for its first entry, or says why not.
mount -o remount,size=32m "$home"
rm -f "$programs"/J4418*
fill_disk
drop_pair J4430 A 4430
crash
"$yoked" --home "$home" >>"$log" 2>&1 &
pid=$!
within "$patience" answers || fail 'yoked neither starts nor ends'
if gone; then
	wait "$pid" || true
	pid=
	expect_in 'a start with a full disk' 'no space is left' "$(tail -n 1 "$log")"
fi
free_disk
[ -n "$pid" ] || start
becomes released J4430 A
expect_events 2 'kind=arrived&job=J4430'
sound
stop
