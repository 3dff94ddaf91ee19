# Goal: what the control punches is taken into the vault and compared by meaning: equal counts as read
# back, a feed that the operator changed is told by its name, a program that is gone too; and what
# was read with the wrong framing is never taken for a program.
. "$(dirname "$0")/shop.sh"
settings settle_ms 100
control LATHE1 --line-upper 0 --line-lower 0 --store "$scratch/LATHE1.store" --speed 115200 --eob crlf
serial LATHE1 'read_back = none' 'read_back_ms = 3000'
mkdir -p "$scratch/battery/upper"
program J4417 C upper 4417 201 >"$scratch/battery/upper/O4417.nc"
control LATHE2 --line 0 --speed 115200 --battery "$scratch/battery"
serial LATHE2 'read_back = none' 'read_back_ms = 3000' 'code = ascii' 'framing = 8n1'
share LATHE3
start
drop_pair J4417 C 4417
becomes released J4417 C
automatic LATHE1
carried J4417 C LATHE1
expect_machine LATHE1 'loaded J4417@C'
by_hand LATHE1

punch() { # NAME CHANNEL: the operator punches when the line is open and its channel is waited for
	punched() { [ "$(of "$1" .progress.channel)" = "$2" ] && [ "$(of "$1" .progress.phase)" = punch ]; }
	within "$patience" punched "$@" || fail "the fetch does not wait for $2: $(api "/v1/machines/$1")"
	operator "$1" "punch $2" >/dev/null
}

# Equal, though with leader, trailer and other ends of block: read back.
order LATHE1/fetch
punch LATHE1 upper
punch LATHE1 lower
expect 'the fetch' done "$(outcome_of "$order")"
machine_becomes LATHE1 'loaded J4417@C read back'
expect_events 0 kind=drift
# One channel alone says nothing of the other.
order LATHE1/fetch '{"channel":"lower"}'
punch LATHE1 lower
expect 'the fetch of one channel' done "$(outcome_of "$order")"
expect_machine LATHE1 'loaded J4417@C read back'
refused 400 no-channel LATHE1/fetch '{"channel":"third"}'

# The operator changes a feed.
yoke prove LATHE1 >/dev/null
operator LATHE1 'edit upper F0.2 F0.25' >/dev/null
"$build/cli/yoke" fetch LATHE1 --out "$scratch/fetched" >"$scratch/said" 2>&1 &
command=$!
punch LATHE1 upper
punch LATHE1 lower
status=0
wait $command || status=$?
expect 'status of yoke fetch after a change' 1 "$status"
expect_machine LATHE1 'loaded J4417@C drift'
expect 'the drift' 'upper feed' "$(events kind=drift | jq -r '.detail.changes[] | .channel + " " + .kind')"
expect_in 'in words' 'F0.25' "$(events kind=drift | jq -r .text)"
expect 'who changed it' 'not known: somebody at the machine' "$(events kind=drift | jq -r .who)"
[ "$(sum "$(echo "$scratch"/fetched/*upper*)")" = "$(events kind=drift | jq -r '.parts[] | select(.channel == "upper") | .after')" ] ||
	fail 'the fetched file is not what the trail says'
grep -q 'F0.25' "$scratch"/fetched/*upper* || fail 'the fetched file has no changed feed'
refused 409 drift LATHE1/prove
expect 'last good pair after the change' 'J4417@C' "$(of LATHE1 '.last_good.job + "@" + .last_good.revision')"
automatic LATHE1
yoke restore LATHE1 --yes >/dev/null 2>&1 || fail 'yoke restore'
expect_machine LATHE1 'loaded J4417@C proven'
expect_stored LATHE1 4417 J4417 C
by_hand LATHE1

# Nobody punches: the fetch ends, and nothing is known otherwise than before.
order LATHE1/fetch '{"channel":"upper"}'
expect 'a fetch that nobody answers' failed "$(outcome_of "$order")"
expect_machine LATHE1 'loaded J4417@C proven'

# 7 bits and even parity on a line that is read with 8: no program, told, the capture kept.
programs_before=$(events kind=fetched | wc -l)
order LATHE2/fetch '{"channel":"upper"}'
punch LATHE2 upper
expect 'the fetch of garbage' failed "$(outcome_of "$order")"
text=$(api "/v1/orders/$order" | jq -r .text)
expect_in 'why' parity "$text"
expect 'fetched events' "$programs_before" "$(events kind=fetched | wc -l)"
expect_machine LATHE2 'nothing @'
raw=$(events 'kind=arrived&machine=LATHE2' | jq -r 'select(.outcome == "raw") | .parts[0].after')
api "/v1/programs/$raw" | LC_ALL=C grep -qa "$(printf '\245')" || fail 'the raw capture was not kept'
expect 'jobs that came of it' 'J4417' "$(api /v1/jobs | jq -r '.jobs[].job' | sort -u)"

# A share: equal, changed, and gone.
carried J4417 C LATHE3
order LATHE3/fetch
expect 'the fetch from a share' done "$(outcome_of "$order")"
expect_machine LATHE3 'loaded J4417@C read back'
sed -i 's/F0.2$/F0.3/' "$(on LATHE3 lower J4417)"
order LATHE3/fetch
expect 'the fetch of a changed program' done "$(outcome_of "$order")"
expect_machine LATHE3 'loaded J4417@C drift'
expect_in 'what changed' F0.3 "$(of LATHE3 .text)"
carried J4417 C LATHE3
rm "$(on LATHE3 lower J4417)"
order LATHE3/fetch
outcome_of "$order" >/dev/null
expect_machine LATHE3 'loaded J4417@C drift'
expect_in 'what changed' 'lower is no longer there' "$(of LATHE3 .text)"
rm "$(on LATHE3 upper J4417)"
carried J4417 C LATHE3
expect_pair LATHE3 J4417 C
expect_machine LATHE3 'loaded J4417@C read back'
sound
stop
