# Goal: each state that must not be run is told by `yoke machines` with the command that puts it right,
# and that very command does: a half-carried pair, a carriage whose outcome nobody knows, a control that
# was replaced and is empty, a program in another channel's place, a change at the machine.
. "$(dirname "$0")/shop.sh"
settings settle_ms 100
control LATHE1 --line-upper 0 --line-lower 0 --store "$scratch/LATHE1.store" --speed 115200 --eob crlf
serial LATHE1 'read_back = none' 'stall_ms = 700' 'read_back_ms = 3000'
share LATHE2
start
drop_pair J4417 C 4417
drop_long J4417 D 4417 400
for revision in C D; do becomes released J4417 $revision; done
automatic LATHE1
carried J4417 C LATHE1
yoke prove LATHE1 >/dev/null
carried J4417 C LATHE2
yoke prove LATHE2 >/dev/null

# told NAME: what `yoke machines NAME` says, on one line.
told() {
	COLUMNS=500 yoke machines "$1" | tr -s ' \n' '  '
}

# by_command NAME SIGN COMMAND: it is told behind the sign; then it is run as it stands there.
by_command() {
	expect_in "$1 is told" "$2" "$(told "$1")"
	expect_in "the command for $1" "\`$3\`" "$(told "$1" | sed "s/.*$2//")"
	case $3 in *restore*) set -- "$1" "$2" "$3 --yes" ;; esac
	# shellcheck disable=SC2086 # the command as a person types it
	set -- "$1" $3
	back=$1
	shift 2
	yoke "$@" >"$scratch/said" 2>&1 || fail "yoke $*: $(cat "$scratch/said")"
	machine_becomes "$back" "$wanted"
}

# fetch_line: both channels, when the operator is waited for.
punch() {
	punched() { [ "$(of LATHE1 .progress.channel)" = "$1" ] && [ "$(of LATHE1 .progress.phase)" = punch ]; }
	within "$patience" punched "$1" || fail "the fetch does not wait for $1: $(api /v1/machines/LATHE1)"
	operator LATHE1 "punch $1" >/dev/null
}
fetch_line() {
	by_hand LATHE1
	order LATHE1/fetch
	punch upper
	punch lower
	outcome_of "$order" >/dev/null
}

# --- Half a pair: the memory is full in the middle ---

operator LATHE1 'memory 1500' >/dev/null
send J4417 D LATHE1
expect 'an order that breaks off' failed "$(outcome_of "$order")"
expect 'what LATHE1 holds' split "$(of LATHE1 .content)"
operator LATHE1 'memory 262144' >/dev/null
by_hand LATHE1
automatic LATHE1
wanted='loaded J4417@C proven'
by_command LATHE1 '!! SPLIT' 'yoke restore LATHE1'
expect_stored LATHE1 4417 J4417 C

# --- Nobody knows: the carrier is killed while it sends ---

sending() { [ "$(of LATHE1 '.progress.bytes // 0')" -gt 200 ]; }
send J4417 D LATHE1
within "$patience" sending || fail "nothing is sent: $(whereabouts "$order")"
kill -9 "$(carriers | head -n 1)"
expect 'an order whose carrier died' failed "$(outcome_of "$order")"
expect 'what LATHE1 holds' unknown "$(of LATHE1 .content)"
expect_in 'another way' "\`yoke fetch LATHE1\` looks" "$(told LATHE1)"
by_hand LATHE1
automatic LATHE1
by_command LATHE1 '!! UNKNOWN' 'yoke restore LATHE1'
expect_stored LATHE1 4417 J4417 C

# --- The program of the upper channel was loaded into the lower one, by its header ---

operator LATHE1 'edit lower lower upper' >/dev/null
fetch_line
machine_becomes LATHE1 'loaded J4417@C drift'
expect 'whose it is' 'lower upper' "$(of LATHE1 '.now.parts[] | select(.holds) | .channel + " " + .holds')"
automatic LATHE1
by_command LATHE1 '!! WRONG CHANNEL: lower holds the program of upper' 'yoke restore LATHE1'
expect_stored LATHE1 4417 J4417 C

# --- Changed at the control, punched with leader and other ends of block, and adopted ---

by_hand LATHE1
operator LATHE1 'edit upper F0.2 F0.22' >/dev/null
fetch_line
machine_becomes LATHE1 'loaded J4417@C drift'
yoke adopt LATHE1 --rev E >"$scratch/said" || fail "adopted over a line: $(cat "$scratch/said"); $(pair_of J4417 E | jq -c '.report.findings')"
expect_machine LATHE1 'loaded J4417@E read back'
expect_in 'the adopted feed' 'F0.22' "$(api "/v1/programs/$(pair_of J4417 E | jq -r '.parts[] | select(.channel == "upper") | .sha256')")"
expect_in 'told' '! ADOPTED: ' "$(told LATHE1)"
expect_in 'what to do' "\`yoke send J4417@E LATHE1\`" "$(told LATHE1)"
automatic LATHE1
carried J4417 E LATHE1
yoke prove LATHE1 >/dev/null
carried J4417 C LATHE1
yoke prove LATHE1 >/dev/null

# --- A control that was replaced ---

operator LATHE1 forget >/dev/null
yoke doubt LATHE1 --note 'the control was replaced' >/dev/null
expect 'what LATHE1 holds' unknown "$(of LATHE1 .content)"
expect 'the event' "$me said said to be not known any more: the control was replaced" \
	"$(events kind=unknown | tail -n 1 | jq -r '[.who, .outcome, .text] | join(" ")')"
refused 409 not-loaded LATHE1/prove
automatic LATHE1
by_command LATHE1 '!! UNKNOWN' 'yoke restore LATHE1'
expect_stored LATHE1 4417 J4417 C

# --- The same of a share, when what was there all the time is fetched ---

yoke doubt LATHE2 >/dev/null
expect 'what LATHE2 holds' unknown "$(of LATHE2 .content)"
wanted='loaded J4417@C read back proven'
by_command LATHE2 '!! UNKNOWN' 'yoke fetch LATHE2'

# On a share: nothing is there, and half of it.
rm "$(on LATHE2 upper J4417)" "$(on LATHE2 lower J4417)"
yoke fetch LATHE2 >/dev/null 2>&1 || true
wanted='loaded J4417@C read back proven'
by_command LATHE2 '!! EMPTY' 'yoke restore LATHE2'
expect_pair LATHE2 J4417 C
rm "$(on LATHE2 lower J4417)"
yoke fetch LATHE2 >/dev/null 2>&1 || true
by_command LATHE2 '!! HALF: nothing lies there for lower' 'yoke restore LATHE2'
expect_pair LATHE2 J4417 C

# --- Changed there: carried back, or adopted ---

sed -i 's/F0.2$/F0.3/' "$(on LATHE2 upper J4417)"
yoke fetch LATHE2 >/dev/null 2>&1 || true
expect_in 'the other way' "\`yoke adopt LATHE2 --rev REV\` makes it a revision" "$(told LATHE2)"
by_command LATHE2 '! CHANGED' 'yoke send J4417@C LATHE2'
expect_pair LATHE2 J4417 C
sound
stop
