# Goal: a tree of 50,000 files, many good pairs among them, is taken in within bounded time and
# memory while the service answers, and once more at the next start without a new event.
# In memory where there is room: making so many files on a disk takes longer than the test.
if [ -z "${TMPDIR:-}" ] && [ "$(df -Pk /dev/shm 2>/dev/null | awk 'NR == 2 { print $4 }')" -gt 1000000 ]; then
	TMPDIR=/dev/shm
fi 2>/dev/null
. "$(dirname "$0")/lib.sh"

# A sanitizer's build takes about ten times as long for each file.
pairs=3000 notes=1000 others=43000
if grep -qa __asan_init "$yoked"; then pairs=400 notes=200 others=4000; fi
files=$((2 * pairs + notes + others))
settings settle_ms 100 incomplete_s 1

mkdir -p "$programs"
awk -v pairs=$pairs -v folder="$programs" '
function put(path, job, channel) {
	printf "%%\nO%d (JOB %s REV A %s)\nM201\nG0 X40. Z3.\nM202\nM30\n%%\n", n % 9999 + 1, job, channel > path
	close(path)
}
BEGIN {
	for (n = 0; n < pairs; n++) {
		dir = folder "/row" int(n / 250)
		if (n % 250 == 0)
			system("mkdir -p " dir)
		job = "P" n
		put(dir "/" job "-A.upper.nc", job, "UPPER")
		put(dir "/" job "-A.lower.nc", job, "LOWER")
	}
}'
# What else lies about in such a tree: notes that are no programs, many of them alike, and what
# editors leave behind.
awk -v notes=$notes -v others=$others -v folder="$programs" 'BEGIN {
	for (n = 0; n < notes + others; n++) {
		dir = folder "/shelf" int(n / 1000)
		if (n % 1000 == 0)
			system("mkdir -p " dir)
		path = dir "/note" n (n < notes ? ".txt" : ".tmp")
		printf "note %d\n", n % 100 > path
		close(path)
	}
}'
expect 'files in the tree' $files "$(find "$programs" -type f | wc -l)"

start
slowest=0
asked=0
started=$(date +%s)
all_in() {
	# The answer comes within a second, or in ten on a busy machine; never after the scan.
	t=$(curl -sS --max-time 10 --unix-socket "$home/yoke.sock" -o "$answer" -w '%{time_total}' http://yoke/v1/status)
	ms=$(awk -v t="$t" 'BEGIN { printf "%d", t * 1000 }')
	[ "$ms" -le $slowest ] || slowest=$ms
	asked=$((asked + 1))
	[ "$(jq .folder.files "$answer")" -ge $files ] && [ "$(jq .folder.waiting "$answer")" = 0 ]
}
within 120 all_in || fail "not taken in after 120 s: $(cat "$answer")"
echo "$files files were taken in after $(($(date +%s) - started)) s; $asked questions meanwhile, the slowest answer took $slowest ms"
[ $asked -ge 3 ] || fail "only $asked questions were answered meanwhile"
expect 'pairs that are released' $pairs "$(api /v1/jobs | jq '[.jobs[] | select(.state == "released")] | length')"
expect 'notes that are held' $notes "$(api /v1/jobs | jq '[.jobs[] | select(.state == "held")] | length')"
expect 'names that are ignored' $others "$(api /v1/status | jq .folder.ignored)"
# Memory: VmHWM in proc(5). A hundred bytes for each name and the tools of the trade.
peak=$(sed -n 's/^VmHWM:[^0-9]*\([0-9]*\) kB/\1/p' "/proc/$pid/status")
echo "most memory: $peak kB"
grep -qa __asan_init "$yoked" || [ "$peak" -lt 200000 ] || fail "yoked took $peak kB of memory"

# Programs of the tree against the vault, by sha256sum: every one is there.
find "$programs" -name .yoke -prune -o -type f ! -name '*.tmp' -exec sha256sum {} + |
	cut -d ' ' -f 1 | sort -u >"$scratch/want"
sqlite3 -readonly "$home/vault/yoke.db" 'SELECT lower(hex(sha)) FROM program' | sort >"$scratch/kept"
cmp "$scratch/want" "$scratch/kept" || fail 'the vault does not hold exactly the programs of the tree'

count=$(sqlite3 -readonly "$home/vault/yoke.db" 'SELECT count(*) FROM event')
stop
start
within 120 all_in || fail "not scanned again after 120 s: $(cat "$answer")"
expect 'events after a restart' $((count + 2)) "$(sqlite3 -readonly "$home/vault/yoke.db" 'SELECT count(*) FROM event')"
sound
stop
