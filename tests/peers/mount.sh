# Goal: a share behind a real server (sshd, mounted by sshfs) takes a pair; and when its server stands still,
# dies, comes back, is full or takes nothing, each order ends in its named outcome within its deadline, no other
# machine waits for it, nothing is written into an empty mount point, and afterwards the order, or the next one,
# is done.
. "$(dirname "$0")/../fault/shop.sh"
. "$(dirname "$0")/sshfs.sh"
need_sshfs
settings settle_ms 100
deadline=$((10 + 10)) # seconds: 5 of silence, 2 from TERM to KILL, 3 to abandoned (dispatch.h); and a busy machine
stuck='FROZEN WRITING HALF ANSWER LOOK'
for m in $stuck SSHFS IMPATIENT; do share_up $m; done
for m in FROZEN SSHFS WRITING HALF ANSWER; do share $m 'retry_s = 120'; done
share LOOK 'look_s = 1' 'retry_s = 120'
share IMPATIENT 'retry_s = 2'
share LOCAL
start
for revision in C D; do drop_long J4417 $revision 4417 20000; done
for revision in C D; do becomes released J4417 $revision; done

ms() { echo $(($(date +%s%N) / 1000000)); }
took() { # COMMAND...: its milliseconds
	took_from=$(ms)
	"$@"
	echo $(($(ms) - took_from))
}
both() { # times of an order to the local share
	for revision in D C D C D; do took carried J4417 $revision LOCAL; done | sort -n | tr '\n' ' '
}

# Send, read back.
for m in $stuck SSHFS IMPATIENT; do
	carried J4417 C $m
	holds_pair $m.server J4417 C || fail "the server of $m does not hold the pair"
	expect_machine $m 'loaded J4417@C read back'
done
expect_tidy WRITING.server
order WRITING/fetch
expect 'a fetch' done "$(outcome_of "$order")"
carried J4417 C LOCAL
usual=$(both)

# Frozen: before an order, with sshfs itself, in the middle of writing, before the second rename, and when
# that was done but not answered; and while nothing but a look goes on.
freeze FROZEN
freeze IMPATIENT
freeze SSHFS
kill -STOP "$(cat "$scratch/SSHFS.sshfs")"
freeze_at WRITING write 5 before
freeze_at HALF rename 2 before
freeze_at ANSWER rename 2 after
freeze LOOK
sleep 1.5 # a look begins
began=$(ms)
for m in $stuck SSHFS IMPATIENT; do
	send J4417 D $m
	eval "order_$m=$order"
done
for m in WRITING HALF ANSWER; do within 10 frozen $m || fail "the server of $m was not frozen: $(trail)"; done
beside=$(both)
echo "orders to a local share, ms: $usual; while seven other shares are frozen: $beside"
slowest=$(echo "$beside" | awk '{ print $NF }')
slow=$(echo "$usual" | awk '{ print $NF }')
[ "$slowest" -le $((slow + 2000)) ] || fail "a frozen share holds another machine: $slowest ms in place of $slow"

given_up() { [ "$(of "$1" .abandoned)" = true ]; }
for m in $stuck; do
	within $((deadline + 5)) given_up $m || fail "$m is not marked: $(trail)"
	echo "$m: marked $(($(ms) - began)) ms after its order, which is $(eval "order_state \$order_$m")"
	[ $(($(ms) - began)) -le $((deadline * 1000)) ] || fail "$m was given up too late"
done
for m in $stuck; do
	expect_in 'the command' 'STUCK: a carrier hangs' "$(yoke machines | grep -A12 "^!* *$m ")"
	refused 409 abandoned "$m/send" '{"job":"J4417","revision":"C"}'
done
for m in WRITING HALF ANSWER; do
	machine_is $m 'unknown @ abandoned' || expect_machine $m 'unknown @ abandoned'
	case $(yoke machines | grep -A6 "^!! $m ") in *'put in place'*) fail "$m: a sentence on the pair before" ;; esac
done
# The carrier that hangs on sshfs can be killed; its order waits.
killed() { [ "$(events 'kind=kept&machine=SSHFS' | jq -r .outcome | head -n 1)" = again ]; }
within "$deadline" killed || fail "the order of SSHFS does not wait: $(trail)"
expect 'nothing written into it' '' "$(find "$scratch/FROZEN.server" "$scratch/LOOK.server" -name '.yoke-*')"
# Nobody expects an order that waited for days.
expect 'an order that has waited for retry_s' failed "$(outcome_of "$order_IMPATIENT")"
expect_in 'LOCAL is not touched' 'loaded J4417@D' "$(of LOCAL "$in_short")"

# The servers go on.
for m in $stuck SSHFS IMPATIENT; do thaw $m; done
kill -CONT "$(cat "$scratch/SSHFS.sshfs")"
for m in FROZEN SSHFS LOOK; do
	expect "the order that waited for $m" done "$(eval "outcome_of \$order_$m")"
	expect_machine $m 'loaded J4417@D read back'
done
for m in WRITING HALF ANSWER; do
	end_of=$(eval "outcome_of \$order_$m")
	# All new or all old, as the service says.
	case $(of $m "$in_short") in
	'loaded J4417@C read back') holds_pair $m.server J4417 C || fail "$m does not hold C: $(trail)" ;;
	'loaded J4417@D read back') holds_pair $m.server J4417 D || fail "$m does not hold D: $(trail)" ;;
	*) fail "$m is $(of $m "$in_short"): $(trail)" ;;
	esac
	echo "$m: its order is $end_of, the machine $(of $m "$in_short")"
	expect_tidy $m.server
	for revision in C D; do
		carried J4417 $revision $m
		holds_pair $m.server J4417 $revision || fail "$m does not take $revision"
	done
done
expect_machine WRITING 'loaded J4417@D read back'

machine_becomes IMPATIENT 'loaded J4417@C read back'
expect 'orders that were begun on IMPATIENT' 2 "$(count_events 'kind=carrying&machine=IMPATIENT')"

# The server dies, and with it the mount, in one of two ways: an empty folder, or one that gives errors; before an
# order, in the middle of writing, between the renames.
drifts=$(count_events kind=drift)
kill_server FROZEN
kill_server LOOK
kill -KILL "$(cat "$scratch/SSHFS.sshfs")"
freeze_at WRITING write 5 before
freeze_at HALF rename 2 before
for m in FROZEN LOOK; do within "$patience" is_unmounted $m || fail "$m is still mounted"; done
for m in $stuck SSHFS; do
	[ $m = ANSWER ] || send J4417 C $m
	eval "order_$m=$order"
done
for m in WRITING HALF; do
	within 10 frozen $m || fail "the server of $m was not reached"
	kill_server $m
done
for m in FROZEN SSHFS WRITING LOOK; do machine_becomes $m 'loaded J4417@D read back offline'; done
machine_becomes HALF 'unknown @ offline'
for m in FROZEN WRITING HALF LOOK; do
	expect "written into the empty mount point of $m" '' "$(find "$scratch/$m" -mindepth 1)"
done
expect 'drift by a share that is away' "$drifts" "$(count_events kind=drift)"
carried J4417 C LOCAL
# Mounted again.
fusermount3 -u "$scratch/SSHFS"
for m in FROZEN WRITING HALF LOOK; do server_up $m; done
for m in FROZEN SSHFS WRITING HALF LOOK; do mount_up $m; done
for m in FROZEN SSHFS WRITING LOOK; do
	expect "the order that waited for $m" done "$(eval "outcome_of \$order_$m")"
	machine_becomes $m 'loaded J4417@C read back'
	holds_pair $m.server J4417 C || fail "$m does not hold C"
done
expect 'drift by a share that was away' "$drifts" "$(count_events kind=drift)"
# Half of it was in place: it is put right without anybody, as soon as that can be.
machine_becomes HALF 'loaded J4417@D read back'
holds_pair HALF.server J4417 D || fail 'HALF does not hold D'
expect_tidy HALF.server

# It takes nothing; then it does.
remount() { # NAME [OPTION...]
	umount "$scratch/$1"
	within "$patience" is_unmounted "$1" || fail "$1 is still mounted"
	mount_up "$@"
}
remount ANSWER -o ro
send J4417 C ANSWER
waits() { [ "$(events 'kind=kept&machine=ANSWER' | tail -n 1 | jq -r .outcome)" = again ]; }
within "$patience" waits || fail "an order to a read-only share does not wait: $(trail)"
expect_in 'why' 'Read-only file system; nothing was changed' "$(api "/v1/orders/$order" | jq -r .text)"
remount ANSWER
expect 'the order to a share that was read-only' done "$(outcome_of "$order")"
holds_pair ANSWER.server J4417 C || fail 'ANSWER does not hold C'

# Its disk is full: there is room for the pair, but not for another beside it.
if mkdir "$scratch/FULL.server" && mount -t tmpfs -o size=1400k yoke-test "$scratch/FULL.server" 2>/dev/null; then
	mounted="$mounted $scratch/FULL.server"
	share FULL 'retry_s = 120'
	share_up FULL
	stop
	start
	carried J4417 C FULL
	send J4417 D FULL
	expect 'an order to a full share' failed "$(outcome_of "$order")"
	echo "full: $(api "/v1/orders/$order" | jq -r .text)"
	expect 'by its name' space "$(events 'kind=kept&machine=FULL' | tail -n 1 | jq -r .outcome)"
	expect_machine FULL 'loaded J4417@C read back'
	holds_pair FULL.server J4417 C || fail 'the full share does not hold C'
	expect_tidy FULL.server
	mount -o remount,size=4m "$scratch/FULL.server"
	carried J4417 D FULL
	holds_pair FULL.server J4417 D || fail 'the share that was full does not hold D'
else
	echo 'no file system of a given size can be mounted here: a full share is left out'
fi
sound
stop
