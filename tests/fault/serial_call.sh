# Goal: a call that the operator punches at the machine's keyboard brings a pair, brings the last good
# one back, or says that it is proven, under the machine's name or a badge's; what cannot be followed
# is refused like any other request and recorded; what is punched unasked is kept. Listening works
# again after the control, its line or the service were away, and costs nothing meanwhile.
. "$(dirname "$0")/shop.sh"
settings settle_ms 100
printf '[badges]\n17 = anna\n' >>"$home/yoke.conf"
control LATHE1 --line-upper 0 --line-lower 0 --store "$scratch/LATHE1.store" --speed 115200
serial LATHE1
printf '[call]\nlisten = yes\n' >>"$home/machines/LATHE1.conf"
control LATHE2 --line 0 --store "$scratch/LATHE2.store" --speed 115200 --code eia
serial LATHE2 'code = eia' 'framing = 8n1'
printf '[call]\nlisten = yes\nmark = X1\nbring = HOLE\n' >>"$home/machines/LATHE2.conf"
start
drop_pair J4417 C 4417
becomes released J4417 C

heard() {
	[ "$(of "$1" .listening)" = true ]
}

hears() {
	within "$patience" heard "$1" || fail "$1 is not listened to: $(api "/v1/machines/$1")"
}

# call NAME CHANNEL COMMENT: written at the keyboard, and punched.
call() {
	hears "$1"
	operator "$1" "key $2 9999 \"$3\"" >/dev/null
	operator "$1" "punch $2 9999" >/dev/null
	operator "$1" "wait punched $2 30" >/dev/null
}

newest() { # KIND FILTER
	events "kind=$1" | tail -n 1 | jq -r "$2"
}

recorded() { # KIND HOW-MANY
	[ "$(count_events "kind=$1")" -ge "$2" ]
}

# refuses OUTCOME NAME CHANNEL COMMENT
refuses() {
	want=$(($(count_events kind=refused) + 1))
	call "$2" "$3" "$4"
	within "$patience" recorded refused "$want" || fail "'$4' was not refused; the trail: $(trail)"
	expect "the refusal of '$4'" "$1 line $2" "$(newest refused '.outcome + " " + .from + " " + .machine')"
}

loads() { # NAME: the operator sets the channels to read, when each is waited for
	for c in upper lower; do
		waited() { [ "$(of "$1" .progress.channel)" = "$2" ] && [ "$(of "$1" .progress.phase)" = wait ]; }
		within "$patience" waited "$1" $c || fail "nobody waits for $c of $1: $(api "/v1/machines/$1")"
		operator "$1" "read $c" >/dev/null
	done
}

# Asked for by its job: the newest revision, on the same line, when the control is set to read.
call LATHE1 upper 'YOKE BRING J4417'
loads LATHE1
machine_becomes LATHE1 'loaded J4417@C'
expect_stored LATHE1 4417 J4417 C
expect 'who asked' 'machine LATHE1 line send' "$(newest queued '.who + " " + .from + " " + .outcome')"

# Proven, by whose badge it is; another pair is none that could be.
refuses other-pair LATHE1 lower 'YOKE PROVEN J4417 REV B'
call LATHE1 lower 'yoke proven J4417 rev C badge 17'
machine_becomes LATHE1 'loaded J4417@C proven'
expect 'who proved it' 'anna (badge, at machine LATHE1)' "$(newest proven .who)"

# Another pair, by revision; then the last good one back.
drop_pair J4417 D 4417
becomes released J4417 D
call LATHE1 upper 'YOKE BRING J4417 REV D BADGE 17'
loads LATHE1
machine_becomes LATHE1 'loaded J4417@D'
call LATHE1 upper 'YOKE LAST GOOD'
loads LATHE1
machine_becomes LATHE1 'loaded J4417@C proven'
expect_stored LATHE1 4417 J4417 C

# What is refused, and why.
program J5020 A upper 5020 201 >"$programs/J5020-A.upper.nc"
becomes held J5020 A
refuses held LATHE1 upper 'YOKE BRING J5020'
refuses no-pair LATHE1 upper 'YOKE BRING J9999'
refuses badge LATHE1 upper 'YOKE LAST GOOD BADGE 18'
refuses call LATHE1 upper 'YOKE LAST'
refuses call LATHE1 upper 'YOKE BRING'
yoke lock LATHE1 --note 'spindle out' >/dev/null
refuses locked LATHE1 upper 'YOKE BRING J4417'
yoke unlock LATHE1 >/dev/null
expect_machine LATHE1 'loaded J4417@C proven'

# A program that is punched unasked is kept and told, and changes nothing.
want=$(($(events kind=arrived | jq -r 'select(.outcome == "found") | .seq' | wc -l) + 1))
operator LATHE1 'punch lower 4417' >/dev/null
found() { [ "$(events kind=arrived | jq -r 'select(.outcome == "found") | .seq' | wc -l)" = "$want" ]; }
within "$patience" found || fail "what was punched unasked is not told; the trail: $(trail)"
kept=$(events kind=arrived | jq -r 'select(.outcome == "found") | .parts[0].after' | tail -n 1)
api "/v1/programs/$kept" | grep -q O4417 || fail 'what was punched unasked was not kept'
expect_machine LATHE1 'loaded J4417@C proven'

# A call that was damaged on its way is not followed; the capture is kept.
hears LATHE1
operator LATHE1 'key upper 9999 "YOKE BRING J4417"' >/dev/null
operator LATHE1 'errors 40' >/dev/null
before=$(count_events kind=queued)
raws() { events kind=arrived | jq -r 'select(.outcome == "raw") | .seq' | wc -l; }
raw_before=$(raws)
for i in 1 2 3 4 5 6; do
	operator LATHE1 'punch upper 9999' >/dev/null
	operator LATHE1 'wait punched upper 30' >/dev/null
	sleep 1.2 # its end by silence
done
operator LATHE1 'errors 0' >/dev/null
[ "$(raws)" -gt "$raw_before" ] || fail "no damaged call was kept; the trail: $(trail)"
expect 'orders of damaged calls' "$before" "$(count_events kind=queued)"

# The control asks before anybody could wait for it: it need not ask again.
call LATHE1 upper 'YOKE BRING J4417 REV D'
operator LATHE1 'read upper' >/dev/null
operator LATHE1 'wait loaded upper 60' >/dev/null || fail "a control that asked early was not answered: $(trail)"
waited() { [ "$(of LATHE1 .progress.channel)" = lower ] && [ "$(of LATHE1 .progress.phase)" = wait ]; }
within "$patience" waited || fail "nobody waits for lower: $(api /v1/machines/LATHE1)"
operator LATHE1 'read lower' >/dev/null
machine_becomes LATHE1 'loaded J4417@D'

# The control goes off and on; the service is killed: calls arrive again.
operator LATHE1 'power off' >/dev/null
deaf() { [ "$(of LATHE1 .listening)" = false ]; }
within "$patience" deaf || fail 'a control that is off is said to be heard'
operator LATHE1 'power on' >/dev/null
refuses no-pair LATHE1 upper 'YOKE BRING J9998'
crash
start
refuses no-pair LATHE1 upper 'YOKE BRING J9997'

# Both channels on one line, in EIA, in the shop's own words.
for c in upper lower; do
	program J4433 C "$c" 4433 203 213 233 | tr a-z A-Z >"$programs/J4433-C.$c.nc"
done
becomes released J4433 C
call LATHE2 lower 'X1 HOLE J4433'
loads LATHE2
machine_becomes LATHE2 'loaded J4433@C'
expect_stored LATHE2 4433 J4433 C

# Where duties are given to groups, a call needs the badge of a login that has the duty.
stop
sed -i 's/^17 = anna$/17 = anna\n18 = games\n19 = news/' "$home/yoke.conf"
printf '[duties]\ncarry = games\nprove = news\n' >>"$home/yoke.conf"
start
orders=$(count_events kind=queued)
refuses duty LATHE1 upper 'YOKE LAST GOOD'
refuses duty LATHE1 upper 'YOKE LAST GOOD BADGE 17'
refuses duty LATHE1 upper 'YOKE LAST GOOD BADGE 19'
refuses duty LATHE1 upper 'YOKE PROVEN BADGE 18'
expect 'orders of those' "$orders" "$(count_events kind=queued)"
call LATHE1 upper 'YOKE LAST GOOD BADGE 18'
loads LATHE1
expect 'who asked' 'games (badge, at machine LATHE1)' "$(newest queued .who)"

# Listening costs nothing: a carrier that nobody calls does not run at all.
hears LATHE1
hears LATHE2
switches() {
	for p in $(carriers); do awk '/ctxt_switches/ { n += $2 } END { print n }' "/proc/$p/status"; done |
		awk '{ n += $1 } END { print n + 0 }'
}
expect 'carriers that listen' 2 "$(carriers | wc -l)"
before=$(switches)
sleep 3
after=$(switches)
[ $((after - before)) -le 4 ] || fail "listening carriers ran $((after - before)) times in 3 s"
sound
stop
