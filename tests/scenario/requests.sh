# Goal: whatever a client sends to the socket, it gets an answer in words or is cut off; the service
# goes on, answers others meanwhile, and records nothing that was not asked for.
. "$(dirname "$0")/lib.sh"

start
drop_pair J4417 C 4417
becomes released J4417 C
sha=$(pair_of J4417 C | jq -r '.parts[0].sha256')
before=$(count_events)

# refused STATUS ERROR METHOD PATH [CURL ARGUMENT...]
refused() {
	want=$1 error=$2
	shift 2
	expect "status of $1 $2" "$want" "$(ask "$@")"
	expect "error of $1 $2" "$error" "$(jq -r .error "$answer")"
	[ -n "$(jq -r '.text // ""' "$answer")" ] || fail "no words for $1 $2: $(cat "$answer")"
}

# Paths that are none, climb, or are no text.
refused 404 no-path GET /
refused 404 no-path GET /v1
refused 404 no-path GET /v1/status/
refused 404 no-path GET /v2/status
refused 404 no-path GET /v1/../v1/status
refused 404 no-path GET /v1/jobs/../../../../etc/passwd
refused 404 no-job GET /v1/jobs/%2e%2e%2f%2e%2e%2fyoke.conf
refused 404 no-job GET /v1/jobs/..
refused 404 no-machine GET /v1/machines/%2e%2e
refused 400 sha256 GET /v1/programs/%2e%2e%2fyoke.conf
refused 400 sha256 GET "/v1/programs/${sha}0"
refused 404 no-program GET "/v1/programs/$(printf '%064d' 0)"
refused 400 order GET /v1/orders/x
refused 400 order GET /v1/orders/99999999999999999999
refused 404 no-order GET /v1/orders/7
refused 400 path GET /v1/jobs/%00
refused 400 path GET /v1/jobs/J4417%0a
refused 400 path GET /v1/jobs/%ff
refused 400 path GET /v1/jobs/%zz
refused 400 path GET /v1/jobs/%4
refused 400 path GET "/v1/jobs/$(printf '%0600d' 7)"

# Methods.
refused 405 no-method POST /v1/status
refused 405 no-method DELETE /v1/jobs/J4417
refused 405 no-method GET /v1/machines/M/send
refused 405 no-method BREW /v1/status

# Queries.
refused 400 filter GET '/v1/audit?colour=red'
refused 400 filter GET '/v1/audit?from=yesterday'
refused 400 filter GET '/v1/audit?limit=-1'
refused 400 filter GET '/v1/audit?kind=brewed'
refused 400 query GET '/v1/audit?job=a&job=b'
refused 400 query GET '/v1/audit?job=%ff'
refused 400 query GET "/v1/audit?job=$(printf '%02000d' 7)"
expect 'a filter that is SQL to somebody' 0 "$(count_events "job=%27%20OR%201%3D1%20--")"

# Bodies. A machine that is not there is refused before its body is understood or after; both in words.
refused 400 body POST /v1/machines/M/lock -d '{'
refused 400 body POST /v1/machines/M/lock -d '[]'
refused 400 body POST /v1/machines/M/lock -d '{"note": "a", "note": "b"}'
refused 400 body POST /v1/machines/M/lock --data-binary "$(printf '{"note": "\377"}')"
refused 404 no-machine POST /v1/machines/M/lock -d '{"note": "x"}'
head -c 65537 /dev/zero | tr '\0' ' ' >"$scratch/long"
refused 413 too-long POST /v1/machines/M/lock --data-binary "@$scratch/long"
head -c 20000000 /dev/zero >"$scratch/huge"
# The service may close before all of it was sent: then curl has no answer to show.
ask POST /v1/machines/M/lock --data-binary "@$scratch/huge" >/dev/null 2>&1 || true
expect 'status' 200 "$(ask GET /v1/status)"
i=0
deep=
while [ $i -lt 3000 ]; do
	deep="[[[[[[[[[[$deep"
	i=$((i + 1))
done
printf '{"note": %s' "$deep" >"$scratch/deep"
refused 400 body POST /v1/machines/M/lock --data-binary "@$scratch/deep"

# The one refusal that named a machine is in the trail, as everything else that would have changed
# something; the rest left no trace.
expect 'kinds of what was recorded' refused "$(events "after=$before" | jq -r .kind | sort -u)"
expect 'who was refused' "$me" "$(events "after=$before" | jq -r .who | sort -u)"

# Noise, headers without end, requests in pieces, connections that say nothing.
socket() {
	timeout "$patience" socat -t 2 - "UNIX-CONNECT:$home/yoke.sock" 2>/dev/null || true
}
head -c 100000 /dev/urandom | socket >/dev/null
head -c 100000 /dev/zero | socket >/dev/null
printf 'GET /v1/status HTTP/1.1\r\n' | socket >/dev/null
printf '\r\n\r\n\r\n' | socket >/dev/null
printf 'GET /v1/status HTTP/9.9\r\nHost: yoke\r\n\r\n' | socket >/dev/null
printf 'POST /v1/machines/M/lock HTTP/1.1\r\nHost: yoke\r\nContent-Length: -5\r\n\r\n' | socket >/dev/null
printf 'POST /v1/machines/M/lock HTTP/1.1\r\nHost: yoke\r\nContent-Length: 99999999999999999999\r\n\r\n{}' | socket >/dev/null
printf 'POST /v1/machines/M/lock HTTP/1.1\r\nHost: yoke\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n' | socket >/dev/null
{ printf 'GET /v1/status HTTP/1.1\r\nHost: yoke\r\nX: ' && head -c 10000000 /dev/zero | tr '\0' a; } | socket | head -n 1 >"$scratch/first"
case $(cat "$scratch/first") in
'' | *' 4'*) ;;
*) fail "a header of 10 MB is answered with: $(cat "$scratch/first")" ;;
esac
{ printf 'GET /' && head -c 10000000 /dev/zero | tr '\0' a && printf ' HTTP/1.1\r\n\r\n'; } | socket >/dev/null
expect 'status after noise' 200 "$(ask GET /v1/status)"

# Twenty clients that never finish their request, a follower that never reads: others are served.
mkfifo "$scratch/never"
sleep 100 >"$scratch/never" &
holder=$!
i=0
slow=
while [ $i -lt 20 ]; do
	{ printf 'GET /v1/sta' && cat "$scratch/never"; } | socat - "UNIX-CONNECT:$home/yoke.sock" >/dev/null 2>&1 &
	slow="$slow $!"
	i=$((i + 1))
done
{ printf 'GET /v1/follow HTTP/1.1\r\nHost: yoke\r\n\r\n' && cat "$scratch/never"; } |
	socat -u - "UNIX-CONNECT:$home/yoke.sock" >/dev/null 2>&1 &
slow="$slow $!"
expect 'status while others are slow' 200 "$(ask GET /v1/status)"
drop_pair J4418 C 4418
becomes released J4418 C
# They end when what they wait for ends.
kill "$holder"
for one in $slow; do wait "$one" 2>/dev/null || true; done

# A follower sees each event of a drop, in order, once it is durable.
curl -sSN --max-time "$patience" --unix-socket "$home/yoke.sock" http://yoke/v1/follow >"$scratch/followed" &
follower=$!
after=$(count_events)
# Another machine each time: the same again would be counted, and told when the minute is over.
tries=0
follows() {
	tries=$((tries + 1))
	ask POST "/v1/machines/M$tries/lock" -d '{}' >/dev/null
	grep -q refused "$scratch/followed"
}
within "$patience" follows || fail 'the follower sees nothing'
drop_pair J4419 C 4419
becomes released J4419 C
sees() {
	grep -q '"kind":"released"' "$scratch/followed"
}
within "$patience" sees || fail "the follower does not see the release: $(cat "$scratch/followed")"
events "after=$after&job=J4419" | jq -r '[.seq, .kind] | map(tostring) | join(" ")' >"$scratch/want"
jq -r 'select(.job == "J4419") | [.seq, .kind] | map(tostring) | join(" ")' "$scratch/followed" >"$scratch/seen"
expect 'what the follower saw' "$(cat "$scratch/want")" "$(cat "$scratch/seen")"
kill "$follower"
wait "$follower" 2>/dev/null || true

sound
stop
