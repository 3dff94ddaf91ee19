# Goal: a program of 500 MB is taken in, judged and given back with bounded memory, and the service
# answers and takes in others meanwhile.
if [ -z "${TMPDIR:-}" ] && [ "$(df -Pk /dev/shm 2>/dev/null | awk 'NR == 2 { print $4 }')" -gt 4000000 ]; then
	TMPDIR=/dev/shm # otherwise the disk is tested
fi 2>/dev/null
. "$(dirname "$0")/lib.sh"
patience=60

megabytes=500 most=100000
if grep -qa __asan_init "$yoked"; then megabytes=40 most=600000; fi
lines=$((megabytes * 1000000 / 22))

peak() { # VmHWM in proc(5), kB
	sed -n 's/^VmHWM:[^0-9]*\([0-9]*\) kB/\1/p' "/proc/$pid/status"
}

settings settle_ms 100
start
{
	printf '%%\nO4417 (JOB J4417 REV C UPPER)\nM201\n'
	yes 'G1 X10.123 Z-2.5 F0.2' | head -n "$lines"
	printf 'M202\nM30\n%%\n'
} >"$scratch/large"
program J4417 C lower 4417 201 202 >"$programs/J4417-C.lower.nc"
becomes held J4417 C

mv "$scratch/large" "$programs/J4417-C.upper.nc"
slowest=0
asked=0
small=0
taken_in() {
	t=$(curl -sS --max-time 30 --unix-socket "$home/yoke.sock" -o "$answer" -w '%{time_total}' http://yoke/v1/jobs/J4417)
	ms=$(awk -v t="$t" 'BEGIN { printf "%d", t * 1000 }')
	[ "$ms" -le $slowest ] || slowest=$ms
	asked=$((asked + 1))
	[ "$(jq -r '.pairs[0].state' "$answer")" = released ] || return 1
}
started=$(date +%s)
within 120 taken_in || fail "not released after 120 s: $(pair_of J4417 C | jq -c 'del(.report)') $(trail)"
echo "$megabytes MB were judged after $(($(date +%s) - started)) s; $asked questions meanwhile, the slowest answer took $slowest ms; most memory $(peak) kB"
[ $asked -ge 3 ] || fail "only $asked questions were answered meanwhile"
[ "$(peak)" -lt $most ] || fail "yoked took $(peak) kB of memory"
sha=$(pair_of J4417 C | jq -r '.parts[] | select(.channel == "upper") | .sha256')
expect 'SHA-256' "$(sum "$programs/J4417-C.upper.nc")" "$sha"
expect 'blocks' $((lines + 6)) "$(events 'kind=arrived&job=J4417' | tail -n 1 | jq .detail.blocks)"

curl -sS --fail --max-time 120 --unix-socket "$home/yoke.sock" "http://yoke/v1/programs/$sha" | cmp - "$programs/J4417-C.upper.nc" ||
	fail 'the vault gives other bytes back'
echo "given back; most memory $(peak) kB"
sound
stop
