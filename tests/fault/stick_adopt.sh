# Goal: what a control saved on a stick, changed there and with its own line ends and filler, is adopted
# as a revision; the way back is told with the commands of a stick.
. "$(dirname "$0")/stick_lib.sh"
settings settle_ms 100 incomplete_s 2
by_stick LATHE1 'short_names = yes'
start
drop_pair J4417 C 4417
becomes released J4417 C
plug 1440
says 0 'single block' yoke export J4417@C LATHE1 "$stick"
says 0 'J4417@C' yoke loaded LATHE1
yoke prove LATHE1 >/dev/null
for c in upper lower; do
	{ printf '\r\n'; sed 's/$/\r/; s/F0.2/F0.25/' "$programs/J4417-C.$c.nc"; printf '\032\000\000'; } >"$scratch/from-control"
	saved $c "$scratch/from-control"
done
says 1 'drift' yoke import LATHE1 "$stick"
expect_machine LATHE1 'loaded J4417@C drift'
said=$(yoke machines LATHE1 | tr -s ' \n' '  ')
expect_in 'the way back' "\`yoke export J4417@C LATHE1 DIR\` gives the released pair out" "$said"
yoke adopt LATHE1 --rev D >"$scratch/said" || fail "adopted from a stick: $(cat "$scratch/said"); $(pair_of J4417 D | jq -c '.report.findings')"
expect_machine LATHE1 'loaded J4417@D read back'
expect 'the pair' released "$(state_of J4417 D)"
says 0 'read-back' yoke import LATHE1 "$stick"
expect_machine LATHE1 'loaded J4417@D read back'

# What it holds is in doubt: the stick's own commands are named.
yoke doubt LATHE1 >/dev/null
said=$(yoke machines LATHE1 | tr -s ' \n' '  ')
expect_in 'looking' "\`yoke import LATHE1 DIR\` looks" "$said"
expect_in 'the last good pair' "\`yoke export --last-good LATHE1 DIR\` gives out J4417@C" "$said"
says 0 'read-back' yoke import LATHE1 "$stick"
expect_machine LATHE1 'loaded J4417@D read back'
sound
stop
