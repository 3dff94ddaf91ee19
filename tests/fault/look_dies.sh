# Goal: a carrier that looks at a share and is killed again and again is begun again after pauses that grow. It had
# said that it looks, and so each new one began a second later, for ever.
. "$(dirname "$0")/shop.sh"
settings settle_ms 100
share LATHE1 'look_s = 1'
start
drop_pair J4417 C 4417
becomes released J4417 C
carried J4417 C LATHE1

killed=0
until_s=$(($(date +%s) + 12))
while [ "$(date +%s)" -lt $until_s ]; do
	for one in $(carriers); do
		sleep 0.3 # so that it looks
		kill -9 "$one" 2>/dev/null && killed=$((killed + 1))
	done
	sleep 0.1
done
# At once, after 1, 2, 4 s; the next comes after 8.
[ "$killed" -ge 2 ] || fail "killed $killed times: it is not begun again"
[ "$killed" -le 5 ] || fail "killed $killed times in 12 s: it is begun again without a pause"

# An order does not wait for that, and what changes behind it is seen.
carried J4417 C LATHE1
sed -i 's/F0.2$/F0.3/' "$(on LATHE1 upper J4417)"
machine_becomes LATHE1 'loaded J4417@C drift'
stop
