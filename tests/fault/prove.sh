# Goal: `yoke prove` needs a loaded pair that is known; what was proven stays the last good pair through
# sends of other jobs, restarts and forgotten orders, until another pair is proven; restore brings
# exactly its bytes back; and nobody proves what is split, unknown, changed or under way.
. "$(dirname "$0")/shop.sh"
settings settle_ms 100
share LATHE1
start
refused 409 not-loaded LATHE1/prove
refused 409 no-good-pair LATHE1/restore
for revision in C D; do
	drop_pair J4417 $revision 4417
	becomes released J4417 $revision
done
drop_pair J5020 A 5020
becomes released J5020 A
good() { of LATHE1 '.last_good | .job + "@" + .revision'; }

carried J4417 C LATHE1
expect 'before anybody said so' '@' "$(good)"
yoke prove LATHE1 --note 'first part measured, 0.01 under' >"$scratch/said" || fail "yoke prove: $(cat "$scratch/said")"
expect_machine LATHE1 'loaded J4417@C read back proven'
expect 'the note in the trail' 'first part measured, 0.01 under' "$(events kind=proven | jq -r .text)"
expect 'who proved it' "$me" "$(events kind=proven | jq -r .who)"
expect 'what was proven' "$(for c in upper lower; do sum "$programs/J4417-C.$c.nc"; done)" \
	"$(events kind=proven | jq -r '.parts[].after')"

# Other pairs come and go, unproven; also over a power cut.
carried J4417 D LATHE1
expect_machine LATHE1 'loaded J4417@D read back'
carried J5020 A LATHE1
expect_events 0 kind=drift
crash
start
expect_machine LATHE1 'loaded J5020@A read back'
expect 'last good pair' 'J4417@C' "$(good)"
# A send of the very same pair is proven still.
carried J4417 C LATHE1
expect_machine LATHE1 'loaded J4417@C read back proven'

# The share loses everything; the files in the folder are changed meanwhile and count for nothing.
c_upper=$(sum "$programs/J4417-C.upper.nc") c_lower=$(sum "$programs/J4417-C.lower.nc")
find "$scratch/LATHE1" -name '*.NC' -exec rm {} +
program J4417 C lower 4417 201 203 >"$programs/J4417-C.lower.nc"
becomes held J4417 C
refused 409 held LATHE1/send '{"job":"J4417","revision":"C"}'
yoke restore LATHE1 --yes >"$scratch/said" 2>&1 || fail "yoke restore: $(cat "$scratch/said")"
expect_in 'yoke restore' 'single block' "$(cat "$scratch/said")"
expect 'the restored pair' "$c_upper $c_lower" \
	"$(sum "$(on LATHE1 upper J4417)") $(sum "$(on LATHE1 lower J4417)")"
expect_machine LATHE1 'loaded J4417@C read back proven'

# Another revision is proven: the last good pair moves.
carried J4417 D LATHE1
yoke prove LATHE1 >/dev/null || fail 'yoke prove'
expect 'last good pair' 'J4417@D' "$(good)"
carried J5020 A LATHE1
yoke restore LATHE1 --yes >/dev/null 2>&1 || fail 'yoke restore'
expect_pair LATHE1 J4417 D

# While an order is under way; and when the share holds something else.
hold
send J5020 A LATHE1
within "$patience" held || fail 'no carrier was started'
refused 409 not-loaded LATHE1/prove
let_go
outcome_of "$order" >/dev/null
sed -i 's/F0.2/F0.4/' "$(on LATHE1 upper J5020)"
order LATHE1/fetch
outcome_of "$order" >/dev/null
expect_machine LATHE1 'loaded J5020@A drift'
refused 409 drift LATHE1/prove
expect 'last good pair' 'J4417@D' "$(good)"

# A note is a sentence, not a book, and of one type.
refused 400 body LATHE1/prove '{"note":7}'
refused 400 body LATHE1/prove "{\"note\":\"$(printf '%0401d' 7)\"}"
sound
stop
