# Goal: there is no space for the trail in the middle of an order. What cannot be recorded is not done:
# the share stays as it was, requests are answered with the reason, and with space again the order
# goes on by itself.
. "$(dirname "$0")/shop.sh"
[ "$(id -u)" = 0 ] || skip 'mounting needs root'
settings settle_ms 100
share LATHE1
mkdir -p "$home/vault"
mount -t tmpfs -o size=8m yoke-test "$home/vault" 2>/dev/null || skip 'a file system cannot be mounted here'
mounted=$home/vault
start
for revision in C D; do
	drop_pair J4417 $revision 4417
	becomes released J4417 $revision
done
carried J4417 C LATHE1
hold
send J4417 D LATHE1
within "$patience" held || fail 'no carrier was started'
dd if=/dev/zero of="$home/vault/filler" bs=4096 2>/dev/null || true
let_go
sleep 2
expect_pair LATHE1 J4417 C
expect_tidy LATHE1
code=$(ask POST /v1/machines/LATHE1/lock -d '{}')
expect 'a request that cannot be recorded' '500 vault' "$code $(jq -r .error "$answer")"
expect 'GET while nothing can be recorded' 200 "$(ask GET /v1/machines/LATHE1)"
expect 'revision on LATHE1' C "$(jq -r 'if .content == "loaded" then .revision else "C" end' "$answer")"
rm "$home/vault/filler"
expect 'the order with space again' done "$(outcome_of "$order")"
expect_pair LATHE1 J4417 D
expect_machine LATHE1 'loaded J4417@D read back'
expect_tidy LATHE1
sound
stop
