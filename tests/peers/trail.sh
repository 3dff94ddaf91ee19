# Goal: the sealed trail is what others take it for: each public key, checkpoint and proof is read by a library of
# another maker (golang.org/x/mod/sumdb: note, tlog), over a change of key.
. "$(dirname "$0")/../scenario/lib.sh"
command -v go >/dev/null || skip 'Go is not installed (golang-go)'
modules=/usr/share/gocode
[ -d "$modules/src/golang.org/x/mod/sumdb/tlog" ] || skip 'golang-golang-x-mod-dev is not installed'

yoke=$build/cli/yoke
GO111MODULE=off GOPATH=$modules GOCACHE=$scratch/cache go build -o "$scratch/trail" "$(dirname "$0")/trail.go"
settings settle_ms 100 checkpoint_events 1 checkpoint_to "file:$scratch/second"
start
for job in J1 J2 J3; do
	drop_pair $job A 41"${job#J}"
	becomes released $job A
	[ $job != J2 ] || "$yoke" keys rotate --home "$home" >/dev/null
	sleep 1.1 # a checkpoint is made each second at most
done
"$yoke" keys --home "$home" >"$scratch/keys"
last=$(events | tail -n 1 | jq .seq)
seq=1
set --
while [ "$seq" -le "$last" ]; do
	"$yoke" audit prove "$seq" --home "$home" --out "$scratch/proof$seq"
	set -- "$@" "$scratch/proof$seq"
	seq=$((seq + 1))
done
stop
"$scratch/trail" "$scratch/keys" "$scratch/second" "$@" >"$scratch/said" || fail "$(cat "$scratch/said")"
cat "$scratch/said"
expect_in 'what was read' "keys 2, notes $(grep -c '^number ' "$scratch/second"), of two keys 1, proofs $last" "$(cat "$scratch/said")"
sed '2s/.*/1/' "$scratch/second" >"$scratch/bent"
! "$scratch/trail" "$scratch/keys" "$scratch/bent" >/dev/null || fail 'any note opens'
