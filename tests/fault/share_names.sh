# Goal: a share gets names and line ends as its control wants them, and nothing else differs: what was
# released is what the machine is said to hold, what lies there is compared byte for byte, an edit is drift
# with its lines, and a setting that is changed is none; also where orders are cut short. A name that
# cannot be made is refused with what to change.
# Source of the bytes that are expected: GNU sed, which adds one CR to each line.
. "$(dirname "$0")/shop.sh"
settings settle_ms 100
printf '[weights]\nnumber-clash = warn\n' >>"$home/yoke.conf"

# lines NAME SETTING...: settings for [line] of a machine.
lines() {
	lines_of=$home/machines/$1.conf
	shift
	for setting; do
		sed -i "/^${setting%% =*} =/d; s/^marker = HERE/&\n$setting/" "$lines_of"
	done
}

crlf() {
	sed 's/$/\r/' "$1"
}

# as_crlf REVISION, as_lf REVISION: both programs of J4417 lie there so, by cmp.
as_crlf() {
	for c in CH1/O4417.NC:upper CH2/O4417.NC:lower; do
		crlf "$programs/J4417-$1.${c#*:}.nc" | cmp -s - "$scratch/LATHE1/${c%:*}" || return 1
	done
}

as_lf() {
	for c in CH1/O4417.NC:upper CH2/O4417.NC:lower; do
		cmp -s "$programs/J4417-$1.${c#*:}.nc" "$scratch/LATHE1/${c%:*}" || return 1
	done
}

lies() { # FORM REVISION
	"as_$1" "$2" || fail "the share does not hold $2 as $1: $(cd "$scratch/LATHE1" && head -n 2 CH*/* | cat -A); $(trail)"
}

released() { # REVISION: what the machine is said to hold are the sums of what was dropped
	expect "the parts of $1" "$(sum "$programs/J4417-$1.lower.nc") $(sum "$programs/J4417-$1.upper.nc")" \
		"$(of LATHE1 '[.parts | sort_by(.channel)[] | .sha256] | join(" ")')"
}

share LATHE1 'look_s = 1'
lines LATHE1 'name = {job}_{channel}.nc' 'short_names = yes' 'eob = crlf'
start
drop_pair J4417 C 4417
drop_pair J4417 D 4417
becomes released J4417 C
becomes released J4417 D

# A name that is no 8.3 name.
send J4417 C LATHE1
expect 'a name that is too long' failed "$(outcome_of "$order")"
why=$(api "/v1/orders/$order" | jq -r .text)
expect_in 'why' "'J4417_UPPER.NC', which is no 8.3 name" "$why"
expect_in 'what to change' "set 'name' in [line] to a shorter pattern" "$why"
[ -z "$(ls "$scratch/LATHE1/CH1" "$scratch/LATHE1/CH2" | grep NC)" ] || fail 'something was written'
stop
lines LATHE1 'name = o{number}.nc'
start

# Carried, read back, told as it was released; the trail names both sums, and the vault has one program.
carried J4417 C LATHE1
expect_machine LATHE1 'loaded J4417@C read back'
lies crlf C
released C
written=$(sum "$scratch/LATHE1/CH1/O4417.NC")
expect 'both sums' "O4417.NC $(sum "$programs/J4417-C.upper.nc") $written" \
	"$(events kind=carried | jq -r '.detail.channels[] | select(.channel == "upper") | .name + " " + .program + " " + .written')"
expect 'what is sent, in the vault once' 404 "$(ask GET "/v1/programs/$written")"

# Fetched: the same program.
order LATHE1/fetch
expect 'a fetch' done "$(outcome_of "$order")"
expect_machine LATHE1 'loaded J4417@C read back'
expect 'what came back' "$(sum "$programs/J4417-C.upper.nc")" \
	"$(events kind=fetched | jq -r '.parts[] | select(.channel == "upper") | .after')"
expect 'as it lay there' "$written" \
	"$(events kind=fetched | jq -r '.detail.channels[] | select(.channel == "upper") | .expected')"
expect 'what came back, in the vault once' 404 "$(ask GET "/v1/programs/$written")"

# A dry run finds what was carried there.
order LATHE1/send '{"job":"J4417","revision":"D","dry_run":true}'
expect 'a dry run' done "$(outcome_of "$order")"
expect_in 'what would be replaced' 'what was carried there' "$(api "/v1/orders/$order" | jq -r .text)"

# Looked at, also after a restart; proven, replaced, restored.
yoke prove LATHE1 >/dev/null
stop
start
sleep 2.5
expect_machine LATHE1 'loaded J4417@C read back proven'
carried J4417 D LATHE1
lies crlf D
expect_machine LATHE1 'loaded J4417@D read back'
order LATHE1/restore
expect 'a restore' done "$(outcome_of "$order")"
lies crlf C
expect_machine LATHE1 'loaded J4417@C read back proven'
expect_events 0 kind=drift

# An edit at the machine, with its line; and back.
cp "$scratch/LATHE1/CH1/O4417.NC" "$scratch/kept"
sed -i '6s/F0.2/F0.3/' "$scratch/LATHE1/CH1/O4417.NC"
machine_becomes LATHE1 'loaded J4417@C drift'
expect 'the edit' 'upper feed 6 6' \
	"$(events kind=drift | jq -r '.detail.changes[] | "\(.channel) \(.kind) \(.old_line) \(.new_line)"' | sort -u)"
expect 'what it was' "$(sum "$programs/J4417-C.upper.nc")" "$(events kind=drift | jq -r '.parts[0].before')"
api "/v1/programs/$(sum "$scratch/LATHE1/CH1/O4417.NC")" | cmp - "$scratch/LATHE1/CH1/O4417.NC" || fail 'the edit is not in the vault'
cp "$scratch/kept" "$scratch/LATHE1/CH1/O4417.NC"
machine_becomes LATHE1 'loaded J4417@C read back proven'
expect_events 1 kind=drift

# Another edit, found by the next order, which keeps it.
stop
sed -i 's/^look_s.*/look_s = 0/' "$home/machines/LATHE1.conf"
start
sed -i '6s/F0.2/F0.4/' "$scratch/LATHE1/CH2/O4417.NC"
edited=$(sum "$scratch/LATHE1/CH2/O4417.NC")
carried J4417 D LATHE1
expect 'what the order found' "$(sum "$programs/J4417-C.lower.nc") $edited" \
	"$(events kind=drift | tail -n 1 | jq -r '.parts[0] | .before + " " + .after')"
lies crlf D

# Other settings: nothing at the machine has changed, and nothing is told; what lies there is known as it
# was written, so that a fetch before the next order brings the released program all the same.
for form in lf crlf as-is crlf; do
	stop
	lines LATHE1 "eob = $form"
	sed -i 's/^look_s.*/look_s = 1/' "$home/machines/LATHE1.conf"
	start
	sleep 1.5
	order LATHE1/fetch
	expect "a fetch under eob = $form" done "$(outcome_of "$order")"
	expect_machine LATHE1 'loaded J4417@D read back'
	carried J4417 D LATHE1
	case $form in crlf) lies crlf D ;; *) lies lf D ;; esac
	released D
	expect_events 2 kind=drift
done

# Another name: what lies there is looked for where it was written, and nothing is said to be gone.
stop
lines LATHE1 'name = P{number}.NC'
start
sleep 2.5
expect_machine LATHE1 'loaded J4417@D read back'
order LATHE1/fetch
expect 'a fetch under another name' done "$(outcome_of "$order")"
expect_machine LATHE1 'loaded J4417@D read back'
carried J4417 D LATHE1
[ -f "$scratch/LATHE1/CH1/P4417.NC" ] || fail 'the new name is not there'
expect_events 2 kind=drift
stop
lines LATHE1 'name = O{number}.NC'
rm "$scratch"/LATHE1/CH?/O4417.NC
start
carried J4417 D LATHE1
lies crlf D

# A control that saves it with other line ends has changed nothing, whoever finds it.
cp "$programs/J4417-D.upper.nc" "$scratch/LATHE1/CH1/O4417.NC"
sleep 2.5
carried J4417 C LATHE1
expect_events 2 kind=drift
lies crlf C

# Cut short, also with other settings at the next start: all of one pair, and the service says which.
revision=C rounds=0
for point in carrying:1 step:1 step:2 step:3 carried:1; do
	for who in carrier yoked both; do
		was=$revision rounds=$((rounds + 1))
		case $revision in C) revision=D ;; *) revision=C ;; esac
		rm -f "$scratch/struck"
		"$build/tests/fault/strike" "$home/yoke.sock" "$pid" $who "\"${point%:*}\"" "${point#*:}" 1500 >"$scratch/struck" &
		striker=$!
		within "$patience" grep -q following "$scratch/struck" || fail 'strike does not follow'
		send J4417 $revision LATHE1
		wait $striker || fail "the event $point did not come: $(trail)"
		if [ $who != carrier ]; then
			wait "$pid" 2>/dev/null || true
			pid=
			case $((rounds % 3)) in 0) form=lf ;; 1) form=as-is ;; *) form=crlf ;; esac
			lines LATHE1 "eob = $form"
			start
		fi
		quiet LATHE1
		seen=$(of LATHE1 "$in_short")
		case $seen in
		"loaded J4417@$revision read back"*) ;;
		"loaded J4417@$was read back"*) revision=$was ;;
		*) fail "$who killed at $point: the machine is '$seen': $(trail)" ;;
		esac
		as_lf $revision || as_crlf $revision || fail "$who killed at $point: the share does not hold $revision: $(trail)"
		released $revision
	done
done
expect_events 2 kind=drift
carried J4417 C LATHE1
expect_tidy LATHE1

# Two channels whose names are one only with this job's values; upper case alone.
share LATHE2
lines LATHE2 'upper_case = yes'
sed -i 's/^folder = CH[12]/folder = CH1/; s/^\[line upper\]/&\nname = o{number}/; s/^\[line lower\]/&\nname = O{job}/' "$home/machines/LATHE2.conf"
stop
start
drop_pair 4420 A 4420
becomes released 4420 A
send 4420 A LATHE2
expect 'two channels, one name' failed "$(outcome_of "$order")"
expect_in 'why' "channels upper and lower would be one file there, 'O4420'" "$(api "/v1/orders/$order" | jq -r .text)"
carried J4417 C LATHE2
[ -f "$scratch/LATHE2/CH1/O4417" ] && [ -f "$scratch/LATHE2/CH1/OJ4417" ] || fail "not upper case: $(ls "$scratch/LATHE2/CH1")"

# Another job's program under the name is found, although it lies there with other line ends than in the
# vault, where the machine does not let two jobs have one number.
share LATHE3
lines LATHE3 'name = O{number}' 'eob = crlf'
printf '[weights]\nnumber-clash = refuse\n' >>"$home/machines/LATHE3.conf"
stop
start
drop_pair J5020 A 4417
becomes released J5020 A
carried J4417 C LATHE3
send J5020 A LATHE3
expect "another job's number" failed "$(outcome_of "$order")"
expect_in 'why' 'holds a program of job J4417' "$(api "/v1/orders/$order" | jq -r .text)"
crlf "$programs/J4417-C.lower.nc" | cmp - "$scratch/LATHE3/CH2/O4417" || fail "the other job's program is gone"
expect_machine LATHE3 'loaded J4417@C read back'
sound
stop
