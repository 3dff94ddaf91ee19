# Goal: a pair goes to a machine without line and network on a real stick: its own names, each channel
# in its folder, checksums that sha256sum reads; nothing is said of the machine until a person says it
# or the control's own files come back; then they are compared like any fetch.
. "$(dirname "$0")/stick_lib.sh"
settings settle_ms 100 incomplete_s 2
by_stick LATHE1 'short_names = yes'
start
for revision in C D; do
	drop_pair J4417 $revision 4417
	becomes released J4417 $revision
done
plug 1440
echo "the stick: $formatted"

# Out it goes.
says 0 'single block' yoke export J4417@C LATHE1 "$stick"
expect_carries J4417 C
expect_clean
if [ "$formatted" = FAT ]; then
	expect_in 'what is said at the end' "umount $stick" "$said"
	expect_in 'how it was read back' 'read back past this computer' "$said"
fi
(cd "$stick" && sha256sum -c --strict YOKE.SUM) >"$scratch/said" || fail "sha256sum -c: $(cat "$scratch/said")"
expect 'programs that sha256sum finds good' 2 "$(grep -c ': OK$' "$scratch/said")"
expect_in 'the note' 'Job J4417, revision C, for machine LATHE1' "$(cat "$stick/YOKE.TXT")"
expect 'lines of the note without CR' 0 "$(grep -vc "$(printf '\r')\$" "$stick/YOKE.TXT")"
expect_machine LATHE1 'nothing @'
expect 'what is told of it' "J4417@C false $me" \
	"$(of LATHE1 '.stick | .job + "@" + .revision + " " + (.said | tostring) + " " + .by')"
expect 'the event' "given to a person on a stick" "$(events kind=exported | jq -r .text | cut -d ';' -f 1)"
refused 409 not-loaded LATHE1/prove
again

# The very files come back: they say nothing of the machine. Once this was taken for a read-back.
expect_carries J4417 C
says 1 'say nothing of the machine' yoke import LATHE1 "$stick"
expect_machine LATHE1 'nothing @'
# Also after the clock change, when FAT shows all files one hour older, and from another time zone.
for c in upper lower; do touch -d "$(stat -c %y "$(on_stick $c)") - 1 hour" "$(on_stick $c)"; done
says 1 'say nothing of the machine' yoke import LATHE1 "$stick"

# A person says that it was loaded: a statement, never read back.
says 1 'was not given out' yoke loaded LATHE1 J4417@D
says 0 "J4417@C, as $(id -un)" yoke loaded LATHE1 --note 'from the blue stick'
expect_machine LATHE1 'loaded J4417@C'
expect 'who said it' "$me said" "$(events kind=loaded | jq -r '.who + " " + .outcome')"
yoke prove LATHE1 >/dev/null
expect_machine LATHE1 'loaded J4417@C proven'

# The control saves both, with other line ends, filler at the end, its own clock, and small letters.
for c in upper lower; do
	{ printf '\r\n'; sed 's/$/\r/' "$programs/J4417-C.$c.nc"; printf '\032\000\000'; } >"$scratch/from-control"
	saved $c "$scratch/from-control"
done
mv "$(on_stick upper)" "$stick/CH1/o4417.tmp"
mv "$stick/CH1/o4417.tmp" "$stick/CH1/o4417.nc"
says 0 'read-back: upper is what was given out on a stick' yoke import LATHE1 "$stick"
expect_machine LATHE1 'loaded J4417@C read back proven'
expect 'sums of what came' "$(sum "$stick/CH1/o4417.nc") $(sum "$(on_stick lower)")" \
	"$(events kind=fetched | jq -r '[.parts[].after] | join(" ")')"
expect 'where it came from' "stick" "$(events kind=fetched | jq -r .from)"
api "/v1/programs/$(sum "$stick/CH1/o4417.nc")" | cmp - "$stick/CH1/o4417.nc" || fail 'what came is not in the vault'

# The newer revision: what lies there goes, and that is told; which is loaded is open again.
says 0 'in place of J4417@C' yoke export J4417 LATHE1 "$stick"
expect_carries J4417 D
expect_clean
expect 'programs of this name' O4417.NC "$(ls "$stick/CH1")"
expect_machine LATHE1 'loaded J4417@C read back proven'
says 1 'say which is loaded' yoke prove LATHE1
expect_in 'the machines' 'STICK: J4417@D was given out' "$(yoke machines)"
# It was not used after all.
says 0 'J4417@C, read back, proven' yoke loaded LATHE1 J4417@C
expect 'a stick that is out' null "$(of LATHE1 .stick)"
says 0 . yoke export J4417 LATHE1 "$stick"

# Half of it is in the machine: the control saved a new upper and an old lower.
saved upper "$programs/J4417-D.upper.nc"
saved lower "$programs/J4417-C.lower.nc"
says 1 'halves of two pairs: do not run it' yoke import LATHE1 "$stick"
expect_machine LATHE1 'split @'
# The other half is loaded, and both are saved.
saved lower "$programs/J4417-D.lower.nc"
says 0 'machine LATHE1: J4417@D, read back, not proven' yoke import LATHE1 "$stick"
expect_machine LATHE1 'loaded J4417@D read back'

# Changed at the machine.
sed 's/F0.2/F0.4/' "$programs/J4417-D.upper.nc" >"$scratch/changed"
saved upper "$scratch/changed"
says 1 'feed F0.2 -> F0.4' yoke import LATHE1 "$stick"
expect_machine LATHE1 'loaded J4417@D drift'
refused 409 drift LATHE1/prove

# Back to the last good pair.
says 0 'J4417@C for machine LATHE1' yoke export --last-good LATHE1 "$stick"
expect_carries J4417 C
# Loaded, then changed there, and never seen between: it is that pair, changed.
sed 's/F0.2/F0.3/' "$programs/J4417-C.lower.nc" >"$scratch/changed"
saved upper "$programs/J4417-C.upper.nc"
saved lower "$scratch/changed"
says 1 'lower differs from what was given out' yoke import LATHE1 "$stick"
expect_machine LATHE1 'loaded J4417@C drift'
# Only one channel is saved: the other is not called anything.
says 0 . yoke export J4417@D LATHE1 "$stick"
saved upper "$programs/J4417-D.upper.nc"
says 4 'lower is the copy that `yoke export` wrote' yoke import LATHE1 "$stick"
expect_machine LATHE1 'unknown @'
says 0 'not read back' yoke loaded LATHE1
expect_machine LATHE1 'loaded J4417@D'
rm "$stick/CH1/O4417.NC" "$stick/CH2/O4417.NC"
says 1 'no program of machine LATHE1 lies there: CH1/O4417.NC, CH2/O4417.NC was looked for' yoke import LATHE1 "$stick"

# No carrier goes to such a machine.
refused 409 by-stick LATHE1/send '{"job":"J4417"}'
refused 409 by-stick LATHE1/restore
refused 409 by-stick LATHE1/fetch
expect_in 'what to do' 'yoke export --last-good LATHE1 DIR' "$(jq -r .text "$answer")"
expect_events 0 kind=carrying
pull
sound
stop
