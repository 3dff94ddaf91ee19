# Goal: what was changed at a machine is drift until somebody makes it a new revision, under his own
# name and checked like a drop, or carries the released pair back; half a pair too; what cannot be
# adopted is refused with the way out; `yoke machines` names the command that puts each right.
. "$(dirname "$0")/../fault/shop.sh"
settings settle_ms 100
share LATHE1 'look_s = 1'
start

# As refused, without a look at the trail: a flood of refusals is told in few events.
no() { # STATUS NAME PATH [BODY]
	expect "POST $3" "$1 $2" "$(ask POST "/v1/machines/$3" -d "${4:-{\}}") $(jq -r .error "$answer")"
}
drop_pair J4417 C 4417
becomes released J4417 C
carried J4417 C LATHE1
upper=$(on LATHE1 upper J4417)
lower=$(on LATHE1 lower J4417)
refused 409 no-drift LATHE1/adopt '{"revision": "D"}'
no 400 body LATHE1/adopt '{}'
expect 'a name with a blank' 400 "$(ask POST /v1/machines/LATHE1/adopt -d '{"revision": "D E"}')"
no 404 no-machine LATHE9/adopt '{"revision": "D"}'

# A revision that was dropped meanwhile, and is held: nothing that is adopted comes from it.
for c in upper lower; do program J4417 C1 $c 4417 201 20$([ $c = upper ] && echo 4 || echo 5) 203 | sed 's/F0.2$/F0.7/' >"$programs/J4417-C1.$c.nc"; done
becomes held J4417 C1

# Only one channel was changed: the other one is adopted as it was carried.
sed -i 's/F0.2$/F0.3/' "$upper"
machine_becomes LATHE1 'loaded J4417@C drift'
expect 'its weight' warn "$(events kind=drift | jq -r .detail.weight)"
expect 'each channel' 'upper different warn' "$(events kind=drift | jq -r '.detail.channels[] | .channel + " " + .sameness + " " + .weight')"
expect 'what it holds' "$(printf 'lower false %s\nupper true %s' "$(sum "$lower")" "$(sum "$upper")")" \
	"$(of LATHE1 '.now.parts | sort_by(.channel)[] | [.channel, .changed, .sha256] | map(tostring) | join(" ")')"
no 409 drift LATHE1/prove
refused 409 revision-exists LATHE1/adopt '{"revision": "c"}'
refused 409 revision-older LATHE1/adopt '{"revision": "B"}'
said=$(yoke machines LATHE1 | tr -s ' \n' '  ')
expect_in 'the way out' 'yoke adopt LATHE1 --rev REV' "$said"
expect_in 'the way back' 'yoke send J4417@C LATHE1' "$said"
cp "$upper" "$scratch/upper" && cp "$lower" "$scratch/lower"
yoke adopt LATHE1 --rev d --note 'new insert' >"$scratch/said"
expect_in 'told' "J4417@D: adopted from machine LATHE1, released" "$(cat "$scratch/said")"
expect_machine LATHE1 'loaded J4417@D read back'
expect 'the event' "$me LATHE1 J4417 D released what was changed there since revision C: new insert" \
	"$(events kind=adopted | jq -r '[.who, .machine, .job, .revision, .outcome, .text] | join(" ")')"
expect 'who brought it' "$me" "$(events 'kind=arrived&job=J4417' | jq -r 'select(.revision == "D") | .who' | sort -u)"
cmp "$scratch/upper" "$upper" || fail 'the machine is not to be touched'
for c in upper lower; do
	sha=$(pair_of J4417 D | jq -r --arg c $c '.parts[] | select(.channel == $c) | .sha256')
	api "/v1/programs/$sha" >"$scratch/adopted"
	sed 's/REV C/REV D/' "$scratch/$c" | cmp - "$scratch/adopted" || fail "the adopted $c is not what the machine holds with its new revision"
	api "/v1/programs/$(sum "$scratch/$c")" | cmp - "$scratch/$c" || fail "what the machine holds of $c is not in the vault"
done
[ -s "$programs/.yoke/J4417-D.txt" ] || fail 'there is no verdict on the adopted pair'
expect 'adopted in the history' "LATHE1 C $me" "$(yoke history J4417 --json | jq -r '.lines[0].revisions[2].adopted[] | .machine + " " + .from + " " + .by')"
expect 'what D changed' 'feed F0.2 -> F0.3' "$(yoke history J4417 --json | jq -r '.lines[0].revisions[2].arrivals[] | select(.channel == "upper") | .change.heaviest.what')"
expect 'what nobody changed' 'C' "$(yoke who J4417 M202 --channel upper --json | jq -r '.places[].revision')"
expect 'who changed the block' "D $me" "$(yoke who J4417 'G1 Z-1. F0.3' --channel upper --json | jq -r '.places[0] | .revision + " " + .by')"

# No look finds drift in it; an edit is one again, the old text back ends it.
before=$(count_events kind=drift)
sleep 2.5
expect_machine LATHE1 'loaded J4417@D read back'
expect 'drift after adopting' "$before" "$(count_events kind=drift)"
sed -i 's/F0.3$/F0.4/' "$upper"
machine_becomes LATHE1 'loaded J4417@D drift'
cp "$scratch/upper" "$upper"
machine_becomes LATHE1 'loaded J4417@D read back'

# Its own copy has the old header: the released pair is carried before it is proven.
no 409 adopted LATHE1/prove
expect_in 'in machines' 'yoke send J4417@D LATHE1' "$(yoke machines LATHE1 | tr -s ' \n' '  ')"
carried J4417 D LATHE1
grep -q 'REV D' "$upper" || fail 'the released pair is not on the machine'
yoke prove LATHE1 >/dev/null
expect_machine LATHE1 'loaded J4417@D read back proven'

# A comment alone is drift that weighs a note.
sed -i 's/^M30/(was here)\nM30/' "$lower"
machine_becomes LATHE1 'loaded J4417@D drift'
expect 'the weight of a comment' note "$(of LATHE1 .now.weight)"

# One channel right again, while the other is not: told, and adopted as it is.
sed -i 's/F0.3$/F0.5/' "$upper"
both() { [ "$(of LATHE1 '[.now.parts[] | select(.changed)] | length')" = "$1" ]; }
within "$patience" both 2 || fail "both channels should have drifted: $(of LATHE1 .now)"
sed -i '/was here/d' "$lower"
within "$patience" both 1 || fail "lower should be right again: $(of LATHE1 .now)"

# Wait codes that do not agree any more: adopted, and held.
sed -i 's/M202/M212/' "$upper"
expect_held() { [ "$(of LATHE1 .now.weight)" = refuse ]; }
within "$patience" expect_held || fail "a wait code should weigh refuse: $(of LATHE1 .now)"
status=0
yoke adopt LATHE1 --rev E >"$scratch/said" || status=$?
expect 'status of an adopted pair that is held' 1 "$status"
expect_in 'told' 'J4417@E: adopted from machine LATHE1, held: ' "$(cat "$scratch/said")"
no 409 adopted LATHE1/prove
no 409 held LATHE1/send '{"job": "J4417", "revision": "E"}'

# Carried back instead.
carried J4417 D LATHE1
expect_machine LATHE1 'loaded J4417@D read back proven'

# The wrong channel: upper's program lies in lower's place.
cp "$upper" "$lower"
machine_becomes LATHE1 'loaded J4417@D drift'
expect 'whose it is' upper "$(of LATHE1 '.now.parts[] | select(.channel == "lower") | .holds')"
expect 'the weight' 'refuse true' "$(of LATHE1 '[.now.weight, .now.wrong] | map(tostring) | join(" ")')"
expect_in 'in words' 'lower holds the program of upper' "$(of LATHE1 .text)"
refused 409 wrong-channel LATHE1/adopt '{"revision": "F"}'
expect_in 'in machines' '!! WRONG CHANNEL' "$(yoke machines LATHE1)"

# A control that was replaced: its memory is empty.
rm "$upper" "$lower"
empty() { [ "$(of LATHE1 .now.empty)" = true ]; }
within "$patience" empty || fail "the machine should be empty: $(of LATHE1 .now)"
no 409 gone LATHE1/adopt '{"revision": "F"}'
said=$(yoke machines LATHE1 | tr -s ' \n' '  ')
expect_in 'in machines' '!! EMPTY' "$said"
expect_in 'the way back' 'yoke restore LATHE1' "$said"
order LATHE1/restore
expect 'restored' 'done' "$(outcome_of "$order")"
expect_machine LATHE1 'loaded J4417@D read back proven'
holds() { [ "$(sum "$upper")" = "$(pair_of J4417 D | jq -r '.parts[] | select(.channel == "upper") | .sha256')" ]; }
holds || fail 'the last good pair is not on the share'

# A restart reads the same from the trail.
sound
stop
start
expect_machine LATHE1 'loaded J4417@D read back proven'
sound
stop
