# Goal: each fault that a pair is known to come with from the trade is told by its name, at its
# line, and such a pair is held, never released. The cases are common practice; the form of
# comments is that of NISTIR 6556, 3.3.4.
. "$(dirname "$0")/lib.sh"

# put JOB REVISION UPPER LOWER: the two programs, with the escapes of printf's %b.
put() {
	printf %b "$3" >"$scratch/u" && mv "$scratch/u" "$programs/$1-$2.upper.nc"
	printf %b "$4" >"$scratch/l" && mv "$scratch/l" "$programs/$1-$2.lower.nc"
}

# held_for JOB REVISION FINDING [LINE]: both programs are in and the pair is held, this among why.
arrived_twice() {
	[ "$(count_events "kind=arrived&job=$1")" -ge 2 ]
}

held_for() {
	within "$patience" arrived_twice "$1" || fail "the programs of $1 did not arrive: $(trail)"
	expect "state of $1 for $3" held "$(state_of "$1" "$2")"
	pair_of "$1" "$2" | jq -e --arg name "$3" --argjson line "${4:-0}" \
		'.report.findings[] | select(.name == $name and .weight == "refuse" and ($line == 0 or .line == $line))' \
		>"$scratch/found" || fail "$1 is held, but not for $3 at line ${4:-any}: $(findings_of "$1" "$2")"
	expect_events 0 "kind=released&job=$1"
}

settings settle_ms 100 incomplete_s 1
start

good_lower() { # JOB REVISION NUMBER
	program "$1" "$2" lower "$3" 201 202 203
}

# Cut-off end: no closing %, no M30, no end of block. Nothing is completed.
put J4401 C '%\nO4401(JOB J4401 REV C UPPER)\nN10 G0 X62. Z3.\nN20 G1 Z-1' "$(good_lower J4401 C 4401)\n"
held_for J4401 C cut-off
expect 'bytes of the cut-off program' "$(sum "$programs/J4401-C.upper.nc")" \
	"$(pair_of J4401 C | jq -r '.parts[] | select(.channel == "upper") | .sha256')"

# Invisible first bytes, typographic characters, tab, lower case.
put J4402 C '\0357\0273\0277%\nO4402 (JOB J4402 REV C UPPER)\n(ROUGH 30\0302\0260 \0342\0200\0234LEFT\0342\0200\0235)\ng0\tx40.\nM201\nM202\nM203\nM30\n%\n' \
	"$(good_lower J4402 C 4402)\n"
held_for J4402 C byte-order-mark 1
expect 'what else is told' 'refuse byte-order-mark warn character-comment warn lower-case warn tab' \
	"$(findings_of J4402 C | grep -E 'byte-order|character|lower-case|tab' | tr '\n' ' ' | sed 's/ $//')"

# Doubled line ends, CR CR LF, and LF LF.
put J4403 C '%\r\r\nO4403 (JOB J4403 REV C UPPER)\r\r\nM201\r\r\nM202\r\r\nM203\r\r\nG0X40.\r\r\nM30\r\r\n%\r\r\n' \
	"$(good_lower J4403 C 4403)\n"
held_for J4403 C line-ends-doubled
put J4404 C '%\n\nO4404 (JOB J4404 REV C UPPER)\n\nM201\n\nM202\n\nM203\n\nG0X40.\n\nM30\n\n%\n\n' \
	"$(good_lower J4404 C 4404)\n"
held_for J4404 C line-ends-doubled

# 7 bits and even parity, read with 8 bits: % O4417 G0X40. M30 % (the parity of ISO 840 tape code).
# Nothing in it can be trusted; it goes by the name of its file.
put J4405 C '\0245\n\0317\0264\0264\0261\0267\n\0107\0060\0330\0264\0060\0056\n\0115\0063\0060\n\0245\n' "$(good_lower J4405 C 4405)\n"
appears 'kind=held&job=J4405-C.upper.nc'
expect_in 'read with the wrong framing' 'refuse framing-7e' "$(findings_of J4405-C.upper.nc '')"
expect 'its mate' held "$(state_of J4405 C)"

# A comment that is nested, one that is open, and codes behind them.
put J4406 C '%\nO4406 (JOB J4406 REV C UPPER)\nM201\nN50 (BORE (2 OF 3) SIZE) M202\nN60 (CHECK GAUGE M203\nM30\n%\n' \
	"$(good_lower J4406 C 4406)\n"
held_for J4406 C comment-nested 4
held_for J4406 C comment-open 5
held_for J4406 C wait-uncertain
# A code inside a whole comment does not count: here it is missing.
put J4407 C '%\nO4407 (JOB J4407 REV C UPPER)\nM201\nN70 (M202 MOVED)\nM203\nM30\n%\n' "$(good_lower J4407 C 4407)\n"
held_for J4407 C wait-missing

# A wait code in a block with a slash, in one channel only.
put J4408 C '%\nO4408 (JOB J4408 REV C UPPER)\nM201\n/M202\nM203\nM30\n%\n' "$(good_lower J4408 C 4408)\n"
held_for J4408 C wait-skipped

# A wait code is missing: told at the second meeting, not by counting.
put J4409 C "$(program J4409 C upper 4409 201 202 203)\n" "$(program J4409 C lower 4409 201 203)\n"
held_for J4409 C wait-missing
expect_in 'the meeting' M202 "$(pair_of J4409 C | jq -r .text)"

# The same codes in another order.
put J4410 C "$(program J4410 C upper 4410 201 202)\n" "$(program J4410 C lower 4410 202 201)\n"
held_for J4410 C wait-swapped

# Revisions differ: between name and header, and between the mates, of which each then lacks one.
put J4411 C "$(program J4411 D upper 4411 201)\n" "$(program J4411 C lower 4411 201)\n"
held_for J4411 D revision-differs 2
expect 'the half at revision C' held "$(state_of J4411 C)"
put J4412 D "$(program J4412 D upper 4412 201)\n" "$(program J4412 C lower 4412 201)\n"
held_for J4412 D mate-missing
held_for J4412 C revision-differs 2

# No revision at all. The names say nothing: they do not fit the pattern.
printf '%%\nO4413 (J4413 UPPER)\nM201\nM30\n%%\n' >"$programs/J4413.UP"
appears 'kind=held&job=J4413.UP'
expect 'a program without job, revision and channel' held "$(state_of J4413.UP '')"
expect 'why' 'refuse channel-unknown refuse job-unknown refuse mate-missing refuse revision-unknown' \
	"$(findings_of J4413.UP '' | grep refuse | tr '\n' ' ' | sed 's/ $//')"

# Two jobs with one number: whoever comes second is held; the first stays released.
drop_pair J4417 C 4417
becomes released J4417 C
drop_pair J5020 C 4417
held_for J5020 C number-clash
expect 'the pair that has the number' released "$(state_of J4417 C)"
# The O-number of another job in one of the two.
put J4414 C "$(program J4414 C upper 4441 201)\n" "$(program J4414 C lower 4414 201)\n"
held_for J4414 C number-mate 2

# Leader and trailer of NUL and DEL are no damage and are kept as they came; one NUL inside is.
{ head -c 120 /dev/zero && program J4415 C upper 4415 201 202 203 && printf '\0\177\0\177\0\177'; } >"$scratch/u"
mv "$scratch/u" "$programs/J4415-C.upper.nc"
good_lower J4415 C 4415 >"$programs/J4415-C.lower.nc"
becomes released J4415 C
expect 'bytes with leader' "$(sum "$programs/J4415-C.upper.nc")" \
	"$(pair_of J4415 C | jq -r '.parts[] | select(.channel == "upper") | .sha256')"
put J4416 C '%\nO4416 (JOB J4416 REV C UPPER)\nM201\nG0 X4\00000. Z3.\nM202\nM203\nM30\n%\n' "$(good_lower J4416 C 4416)\n"
held_for J4416 C nul-inside 4

# A colon for the O, which only a profile with number_colon = yes takes.
put J4418 C '%\n:4418 (JOB J4418 REV C UPPER)\nM201\nM202\nM203\nM30\n%\n' "$(good_lower J4418 C 4418)\n"
held_for J4418 C number-form 2

sound
stop
