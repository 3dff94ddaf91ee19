# Goal: before a pair is brought back a person sees what the machine is believed to hold, what changes
# there by meaning, which tools and work offsets the pair needs, and is asked; another pair can be named;
# afterwards it is read back, and the places for a restart are there when they are wanted.
. "$(dirname "$0")/shop.sh"
settings settle_ms 100
share LATHE1
command -v script >/dev/null || skip 'script (util-linux) is not installed'
start

# cut REV CHANNEL FEED: a program with a tool and a work offset.
cut_with() {
	case $2 in upper) tool="T3 M6" work=G54 ;; *) tool=T0505 work=G55 ;; esac
	printf '%%\nO4417 (JOB J4417 REV %s %s)\nN10 %s\nN20 %s (FINISHING %s)\nN30 G97 S1000 M3\nN40 M201\nN50 G0 X40. Z3.\nN60 G1 Z-18. F%s\nN70 M202\nN80 M30\n%%\n' \
		"$1" "$2" "$work" "$tool" "$2" "$3"
}
release() { # REV FEED
	for c in upper lower; do cut_with "$1" $c "$2" >"$programs/J4417-$1.$c.nc"; done
	becomes released J4417 "$1"
}
release B 0.2
release C 0.25

# answer WORD COMMAND: the command with its person at a terminal; what it wrote is in $said.
answer_with() {
	echo "$1" >"$scratch/word"
	did=0
	COLUMNS=200 script -qec "$2" /dev/null <"$scratch/word" >"$scratch/screen" || did=$?
	said=$(tr -d '\r' <"$scratch/screen" | tr -s ' \n' '  ')
}
yoke_at="$build/cli/yoke"
orders() { api '/v1/orders?open=no' | jq '.orders | length'; }

# Nothing was proven yet.
did=0
yoke restore LATHE1 --yes 2>"$scratch/said" || did=$?
expect 'without a good pair' 1 "$did"
expect_in 'what is said' 'no pair was ever marked as proven' "$(cat "$scratch/said")"

carried J4417 B LATHE1
yoke prove LATHE1 >/dev/null
carried J4417 C LATHE1
before=$(orders)

# Shown, and nothing done.
yoke restore LATHE1 --show >"$scratch/shown"
shown=$(tr -s ' \n' '  ' <"$scratch/shown")
expect_in 'what it holds' 'now: machine LATHE1: J4417@C, read back, not proven' "$shown"
expect_in 'what comes back' 'back: J4417@B, proven ' "$shown"
expect_in 'the difference' 'feed F0.25 -> F0.2, line 8 [warn]' "$shown"
expect_in 'the setup of upper' 'upper needs: work offsets G54; tools T' "$shown"
expect_in 'the tool of lower' 'FINISHING LOWER' "$(echo "$shown" | tr '[:lower:]' '[:upper:]')"
expect_in 'the work offset of lower' 'lower needs: work offsets G55' "$shown"
expect_in 'the cautions' 'single block, rapid override low, guard closed, hand at feed hold' "$shown"
expect 'orders' "$before" "$(orders)"

# No is no, and so is an answer that is none.
for word in n '' perhaps; do
	answer_with "$word" "$yoke_at restore LATHE1"
	expect "status after '$word'" 1 "$did"
	expect_in 'the question' 'Carry J4417@B to machine LATHE1 now? [y/N]' "$said"
	expect_in 'what is said' 'nothing was carried' "$said"
done
expect 'orders' "$before" "$(orders)"
expect_machine LATHE1 'loaded J4417@C read back'

# Yes; the last good pair is there, read back, with the places for a restart.
answer_with y "$yoke_at restore LATHE1 --near upper:N60"
expect "status after y: $said" 0 "$did"
expect_in 'read back' 'machine LATHE1: J4417@B, read back, proven' "$said"
expect_in 'the sheet' 'Nearest matching places to upper N60' "$said"
expect_pair LATHE1 J4417 B
expect_machine LATHE1 'loaded J4417@B read back proven'

# Another pair, for scripts; the machine is changed at the same time.
sed -i 's/F0.2$/F0.9/' "$(on LATHE1 upper J4417)"
yoke fetch LATHE1 >/dev/null || true
expect_machine LATHE1 'loaded J4417@B drift'
expect_in 'the change is seen' 'feed F0.9 -> F0.25' "$(yoke restore LATHE1 --pair J4417@C --show)"
expect_in 'whose it is' 'back: J4417@C, released ' "$(yoke restore LATHE1 --pair J4417@C --show)"
yoke restore LATHE1 --pair J4417@C --yes >/dev/null
expect_pair LATHE1 J4417 C
expect_machine LATHE1 'loaded J4417@C read back'
did=0
yoke restore LATHE1 --pair J4417@X --yes 2>/dev/null || did=$?
expect 'a pair that is not there' 1 "$did"
did=0
yoke restore LATHE1 --near middle:N1 --yes 2>/dev/null || did=$?
expect 'a channel that is not there' 2 "$did"

# What was shown is what is carried: meanwhile another pair became the last good one.
yoke prove LATHE1 >/dev/null
refused 409 other-pair LATHE1/restore '{"job": "J4417", "revision": "B", "last_good": true}'

# The mark of a proven pair ends by an event alone: other channels, and no other setting.
stop
echo '[limits]
block_max = 200' >>"$home/machines/LATHE1.conf"
start
expect_machine LATHE1 'loaded J4417@C read back proven'
expect_events 0 kind=unproven
stop
sed -i 's/^\[line lower\]/[line third]\nfolder = CH3\n[line lower]/' "$home/machines/LATHE1.conf"
printf '[programs]\nchannels = upper, lower, third\n' >>"$home/machines/LATHE1.conf"
start
expect_machine LATHE1 'loaded J4417@C read back'
expect 'the event' "service (the configuration was changed) J4417 C the machine's channels are upper, lower, third now; J4417@C was proven with upper, lower" \
	"$(events kind=unproven | jq -r '[.who, .job, .revision, .text] | join(" ")' | sed 's/with lower, upper/with upper, lower/')"
refused 409 no-good-pair LATHE1/restore
stop
start
expect_events 1 kind=unproven
sound
stop
