# Goal: the history of a job says who brought which revision when and what it changed in each channel;
# `yoke who` names revision and person of a block, through moves and new sequence numbers, at the
# machine too.
. "$(dirname "$0")/../fault/shop.sh"
settings settle_ms 100
share LATHE1 'look_s = 1'
share LATHE2
mkdir -p "$programs/LATHE2"
start

# turn REV CHANNEL FEED [SED SCRIPT]: a program with sequence numbers.
turn() {
	printf '%%\nO4417 (JOB J4417 REV %s %s)\nN10 G0 X40. Z3.\nN20 M201\nN30 T0101\nN40 G1 Z-18.5 F%s\nN50 M202\nN60 G0 X80.\nN70 M30\n%%\n' \
		"$1" "$2" "$3" | sed -e "${4:-}"
}
release() { # REV FEED [SED SCRIPT] [FOLDER]
	for c in upper lower; do
		turn "$1" $c "$2" "${3:-}" >"$programs/${4:+$4/}J4417-$1.$c.nc"
	done
	becomes released J4417 "$1" "${4:-}"
}

# C moves two blocks and has new sequence numbers, and only its feed is another. B arrives last: it stands
# before C all the same.
release A 0.2
release C 0.25 's/^N\([0-9]*\)0 /N\10\1 /; /T0101/d; s/^\(N606 \)/N301 T0101\n\1/'
sed 's/REV A/REV B/; s/X80/X90/' "$programs/J4417-A.upper.nc" >"$programs/J4417-B.upper.nc"
sed 's/REV A/REV B/' "$programs/J4417-A.lower.nc" >"$programs/J4417-B.lower.nc"
becomes released J4417 B
[ "$(id -u)" != 0 ] || chown 4711 "$programs/J4417-B.upper.nc"

yoke history J4417 >"$scratch/history"
expect 'the order of revisions' 'J4417@A J4417@B J4417@C' "$(grep -o '^J4417@.' "$scratch/history" | tr '\n' ' ' | sed 's/ $//')"
expect 'what B changed' '  lower: same meaning: 1 change (1 comment)' \
	"$(yoke history J4417 --json | jq -r '.lines[0].revisions[1].arrivals[] | select(.channel == "lower") | "  lower: " + .change.sameness + ": 1 change (1 comment)"')"
expect 'heaviest of B' 'motion X80. -> X90.' \
	"$(yoke history J4417 --json | jq -r '.lines[0].revisions[1].arrivals[] | select(.channel == "upper") | .change.heaviest.what')"
expect_in 'the sentence of B' ', the heaviest: motion X80. -> X90., line 8 [warn]' "$(cat "$scratch/history")"

# Proven, and where.
carried J4417 C LATHE1
yoke prove LATHE1 --note 'first part good' >/dev/null
expect_in 'proven' "  proven on LATHE1: " "$(yoke history J4417)"
expect 'proven by' "$me first part good" "$(yoke history J4417 --json | jq -r '.lines[0].revisions[2].proven[] | .by + " " + .text')"

# Who: the feed is C's, what moved and was numbered anew is A's, what B changed alone came back with C.
who() {
	yoke who "$@" --json | jq -r '.places[] | [.channel, .line, .revision, .before] | map(tostring) | join(" ")'
}
expect 'the feed' "$(printf 'lower 5 C N40 G1 Z-18.5 F0.2\nupper 5 C N40 G1 Z-18.5 F0.2')" "$(who J4417 'G1 Z-18.5 F.25' | sort)"
expect 'by number' 'upper 5 C N40 G1 Z-18.5 F0.2' "$(who J4417 N404 --channel upper)"
expect 'a moved block' 'upper 7 A ' "$(who J4417 T0101 --channel upper)"
expect 'numbered anew' 'upper 4 A ' "$(who LATHE1 'M201' --channel upper)"
expect 'what B changed' 'upper 8 B N60 G0 X80.' "$(who J4417@B N60 --channel upper)"
expect 'what C changed back' 'upper 8 C N60 G0 X90.' "$(who LATHE1 'G0 X80.' --channel upper)"
expect 'what C left in lower' 'lower 8 A ' "$(who LATHE1 'G0 X80.' --channel lower)"
yoke who J4417 N404 >"$scratch/who"
expect_in 'the place' 'upper J4417-C.upper.nc:5: N404 G1 Z-18.5 F0.25' "$(cat "$scratch/who")"
expect_in 'the revision and the person' '  last changed in revision C, ' "$(cat "$scratch/who")"
expect_in 'the person' ' by owner ' "$(grep -m 1 'last changed' "$scratch/who" | sed 's/by /by owner /')"
status=0
yoke who J4417 N999 >/dev/null 2>"$scratch/said" || status=$?
expect 'no such block' 1 "$status"
expect_in 'what is said' "no block of job J4417 is 'N999'" "$(cat "$scratch/said")"

status=0
yoke who J4417 "$(printf 'N404\377')" --json >"$scratch/who" || status=$?
expect 'a block that is no text' '1 0' "$status $(jq '.places | length' "$scratch/who")"

# What somebody changes at the machine has no person, and a place all the same.
upper=$(on LATHE1 upper J4417)
sed -i 's/F0.25$/F0.3/' "$upper"
machine_becomes LATHE1 'loaded J4417@C drift'
expect 'changed at the machine' 'true C not known: somebody at the machine' \
	"$(yoke who LATHE1 N404 --channel upper --json | jq -r '.places[] | [.at_machine, .revision, .by] | map(tostring) | join(" ")')"
expect 'the other channel' 'false' "$(yoke who LATHE1 N404 --channel lower --json | jq -r '.places[].at_machine')"
expect_in 'in words' '  changed at the machine since revision C, ' "$(yoke who LATHE1 N404)"

# A machine's own folder is a line of its own.
release A 0.5 '' LATHE2
expect 'the lines' 'any LATHE2' "$(yoke history J4417 --json | jq -r '[.lines[] | .machine // "any"] | join(" ")')"
carried J4417 A LATHE2
expect 'of the own folder' 'F0.5' "$(yoke who LATHE2 N40 --channel upper --json | jq -r '.places[].text' | grep -o 'F0.5')"
expect 'no such job' 404 "$(ask GET /v1/jobs/J9/history)"
sound
stop
