# Goal: one document tells everything that happened to a job, out of a real trail: a content that was
# replaced within a revision, a second person's word, an override with its reason, a withdrawal, what was
# carried, read back, proven, restored and changed at the machine; each entry of the job stands there once.
# The file of the report, as text or page, is one with which the trail is verified, and a general checker of
# HTML has nothing to say of the page.
. "$(dirname "$0")/shop.sh"
settings settle_ms 100 incomplete_s 2
share LATHE1
start
report() { # [OPTION...]
	rm -f "$scratch/report"
	yoke audit report J4417 --out "$scratch/report" "$@" 2>"$scratch/said" || fail "yoke audit report: $(cat "$scratch/said")"
}
told() {
	grep -qF -- "$1" "$scratch/report" || fail "'$1' is not in the report: $(cat "$scratch/report")"
}

drop_pair J4417 C 4417
becomes released J4417 C
carried J4417 C LATHE1
yoke prove LATHE1 --note 'first part <0.01> under' >/dev/null || fail 'yoke prove'
first=$(sum "$programs/J4417-C.upper.nc")
# Another content under the same revision, which is held; somebody stands for it despite that.
program J4417 C upper 4417 201 202 203 | sed 's/F0.2/F0.3/' >"$programs/J4417-C.upper.nc"
becomes held J4417 C
second=$(sum "$programs/J4417-C.upper.nc")
yoke accept J4417@C --despite revision-reused --reason 'corrected feed, tried' >/dev/null || fail 'yoke accept'
becomes released J4417 C
drop_pair J4417 D 4417
becomes released J4417 D
carried J4417 D LATHE1
# Somebody edits at the machine; it is found when the last good pair goes back.
sed -i 's/F0.2/F0.4/' "$(on LATHE1 upper J4417)"
found=$(sum "$(on LATHE1 upper J4417)")
yoke restore LATHE1 --yes >/dev/null 2>&1 || fail 'yoke restore'
yoke withdraw J4417@D --reason 'chatter in the bore' >/dev/null || fail 'yoke withdraw'
refused 409 withdrawn LATHE1/send '{"job":"J4417","revision":"D"}'

report
for sum in "$first" "$second" "$found"; do
	tr -d ' \n' <"$scratch/report" | grep -qF "$(echo "$sum" | cut -c1-12)" || fail "the program $sum is not in the report"
done
told 'first part <0.01> under'
told 'F0.2 -> F0.3'
told 'F0.2 -> F0.4'
told 'despite revision-reused'
told 'corrected feed, tried'
told 'chatter in the bore'
told 'withdrawn'
told 'single block'
head=$(api '/v1/audit?limit=1' | jq -c '.events[0]')
tr -d ' \n' <"$scratch/report" | grep -qF "$(echo "$head" | jq -r '.hash' | cut -c1-40)" || fail 'the newest hash is not in the report'
# Every entry of the job once, and the drift, which names no job.
for seq in $(events job=J4417 | jq .seq) $(events kind=drift | jq .seq); do
	expect "lines of entry $seq" 1 "$(grep -cE "^$seq +[0-9]{4}-[0-9]{2}-[0-9]{2} [0-9:]{8}Z +(arrived|held|released|accepted|withdrawn|queued|carrying|step|carried|read-back|kept|drift|proven|refused)( |\$)" "$scratch/report")"
done

# What ties it to the trail, in both forms.
key=$(yoke keys --json | jq -r .trail.key)
for form in '' --html; do
	# shellcheck disable=SC2086
	report $form
	yoke audit verify --against "$scratch/report" --key "$key" >"$scratch/said" ||
		fail "the trail and the report with '$form': $(cat "$scratch/said")"
	expect_in 'verify against the report' '1 checkpoint' "$(cat "$scratch/said")"
	# A root that is not the trail's is found: the paper was not made from it, or one of them was changed.
	sed 's|^A\([A-Za-z0-9+/]\{42\}=\)$|B\1|; t; s|^.\([A-Za-z0-9+/]\{42\}=\)$|A\1|' "$scratch/report" >"$scratch/changed"
	cmp -s "$scratch/report" "$scratch/changed" && fail 'no root stands in the report'
	! yoke audit verify --against "$scratch/changed" --key "$key" >"$scratch/said" 2>&1 || fail 'a changed report is good'
	expect_in 'a changed report' 'does not have the signature' "$(cat "$scratch/said")"
done
if command -v tidy >/dev/null; then
	expect 'what tidy says of the page' '' "$(tidy -q -e "$scratch/report" 2>&1)"
fi
told '&lt;0.01&gt;'
sound
stop
