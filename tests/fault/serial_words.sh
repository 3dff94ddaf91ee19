# Goal: where the control knows its channels by a word in the stream, each program goes into its own
# channel over one line whichever channel the operator has selected, is compared without that block,
# and what another channel punched is never taken for this one's.
. "$(dirname "$0")/shop.sh"
settings settle_ms 100
control LATHE1 --line 0 --store "$scratch/LATHE1.store" --speed 115200 \
	--channel-word upper=CH1 --channel-word lower=CH2
serial LATHE1 'read_back = punch' 'read_back_ms = 5000'
control LATHE2 --line 0 --store "$scratch/LATHE2.store" --speed 115200 --pause 0 --code eia --eob crlf \
	--channel-word 'upper=PATH 1' --channel-word 'lower=PATH 2'
serial LATHE2 'code = eia' 'framing = 8n2' 'read_back = punch' 'leader = 20'
for name in LATHE1 LATHE2; do
	word=$([ $name = LATHE1 ] && echo CH || echo 'PATH ')
	printf '[line upper]\nchannel_word = %s1\n[line lower]\nchannel_word = %s2\n' "$word" "$word" >>"$home/machines/$name.conf"
done
start
for c in upper lower; do
	program J4417 C $c 4417 201 202 | tr a-z A-Z >"$programs/J4417-C.$c.nc"
done
becomes released J4417 C

at() { [ "$(of "$1" .progress.phase)" = "$2" ] && [ "$(of "$1" .progress.channel)" = "$3" ]; }
waits_for() {
	within "$patience" at "$@" || fail "$1 is not at $2 of $3: $(api "/v1/machines/$1")"
}
# The operator has the upper channel selected for both.
loads() {
	for c in upper lower; do
		waits_for "$1" wait $c
		case $(of "$1" .progress.text) in
		*'set it to read'*) ;;
		*) fail "the operator is not told to set it to read: $(of "$1" .progress.text)" ;;
		esac
		case $(of "$1" .progress.text) in
		*select*) fail "the operator is told to select a channel: $(of "$1" .progress.text)" ;;
		esac
		operator "$1" 'read upper' >/dev/null
		operator "$1" "wait loaded $c 30" >/dev/null || fail "$c is not loaded: $(operator "$1" state)"
	done
}
punches() { # NAME CHANNEL WHAT: when the copy of CHANNEL is waited for
	waits_for "$1" punch "$2"
	operator "$1" "punch $3" >/dev/null
}

send J4417 C LATHE1
loads LATHE1
punches LATHE1 upper upper
punches LATHE1 lower lower
expect 'the order' done "$(outcome_of "$order")"
expect_stored LATHE1 4417 J4417 C
expect_machine LATHE1 'loaded J4417@C read back'
# The word is no part of the program's bytes.
for c in upper lower; do
	expect "bytes of $c" "$(wc -c <"$programs/J4417-C.$c.nc")" \
		"$(events kind=carried | jq ".detail.channels[] | select(.channel == \"$c\") | .bytes")"
done

# Automatic: each copy comes when the other program is waited for.
automatic LATHE2
carried J4417 C LATHE2
expect_stored LATHE2 4417 J4417 C
expect_machine LATHE2 'loaded J4417@C read back'

# Fetched: equal, all programs, and of the wrong channel.
operator LATHE1 'key upper 1 "WARM UP"' >/dev/null
order LATHE1/fetch
punches LATHE1 upper 'upper all each'
punches LATHE1 lower lower
expect 'the fetch' done "$(outcome_of "$order")"
expect_machine LATHE1 'loaded J4417@C read back'
expect_in 'what is told' 'in one stream with upper came 1 other program: O0001' "$(api "/v1/orders/$order" | jq -r .text)"
before=$(count_events kind=fetched)
order LATHE1/fetch '{"channel":"upper"}'
punches LATHE1 upper lower
expect 'the fetch of another channel' failed "$(outcome_of "$order")"
told=$(events kind=kept | jq -c "select(.order == $order)")
expect 'its outcome' channel "$(echo "$told" | jq -r .outcome)"
expect_in 'why' 'the control punched channel lower; upper was asked' "$(echo "$told" | jq -r .text)"
expect 'programs that were fetched' "$before" "$(count_events kind=fetched)"
expect 'what was kept' 'raw upper' "$(events kind=arrived | jq -r "select(.order == $order) | .outcome + \" \" + .parts[0].channel")"
expect_in 'what it is' 'the control punched channel lower' "$(events kind=arrived | jq -r "select(.order == $order) | .text")"
expect_machine LATHE1 'loaded J4417@C read back'

# Both programs are there, but the copy of the first is the other channel's.
send J4417 C LATHE1
loads LATHE1
punches LATHE1 upper lower
expect 'the order' failed "$(outcome_of "$order")"
text=$(api "/v1/orders/$order" | jq -r .text)
expect_in 'why' 'not read back: nothing of upper and lower was compared' "$text"
expect_in 'why' 'the control punched channel lower; upper was asked' "$text"
expect_machine LATHE1 'loaded J4417@C'
sound
stop

# A word for one of two channels on a line.
sed -i '/^\[line lower\]/,$d' "$home/machines/LATHE1.conf"
refuses_to_start
expect_in 'why' 'LATHE1.conf:' "$said"
expect_in 'why' 'channel lower has no channel_word' "$said"
