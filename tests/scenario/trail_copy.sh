# Goal: checkpoints reach a log and a server too, and the trail can be compared with what is there; a server that
# answers nobody, refuses or is away holds up neither work nor the end of the service.
. "$(dirname "$0")/lib.sh"
command -v python3 >/dev/null || skip 'python3 is not installed'

yoke=$build/cli/yoke
helper=$(dirname "$0")/trail_listen.py
heard=$scratch/heard
listener=
stop_listening() {
	[ -z "$listener" ] || kill -9 "$listener" 2>/dev/null || true
	wait "$listener" 2>/dev/null || true
	listener=
}
made_log=
leave() {
	left=$?
	trap - EXIT
	set +e
	stop_listening
	[ -z "$made_log" ] || rm -f /dev/log
	(exit "$left")
	end
}
trap leave EXIT
listen() { # KIND: the port, or "log", is in $scratch/port when it listens
	rm -f "$scratch/port"
	python3 "$helper" "$1" "$scratch/port" "$heard" &
	listener=$!
	within "$patience" test -s "$scratch/port" || fail "nothing listens for $1"
}
begin() { # PLACE
	settings settle_ms 100 checkpoint_events 1 checkpoint_to "$1"
	start
}
field() { # JQ: of the status
	api /v1/status | jq -r "$1"
}
all_there() {
	[ "$(field .trail.sealed)" = "$(events | tail -n 1 | jq .seq)" ] &&
		[ "$(field .trail.copy.number)" = "$(field .trail.number)" ]
}
fits() {
	"$yoke" audit verify --home "$home" --against "$heard" >"$scratch/verdict" 2>&1 ||
		fail "what was heard does not fit: $(cat "$scratch/verdict")"
	expect_in 'what was heard' "$1 checkpoint" "$(tail -n 1 "$scratch/verdict")"
}
says() { # PART
	case $(field '.trail.copy.error // ""') in *"$1"*) ;; *) return 1 ;; esac
}

# --- A server ---

listen take
begin "http://127.0.0.1:$(cat "$scratch/port")/trail?from=shop"
drop_pair J4417 C 4417
becomes released J4417 C
within "$patience" all_there || fail "not everything is there: $(field .trail)"
fits "$(field .trail.number)"
stop_listening

# One that refuses, and one that is away.
listen refuse
stop
begin "http://127.0.0.1:$(cat "$scratch/port")/"
within "$patience" says 'HTTP status 507' || fail "a server that refuses: $(field .trail)"
stop_listening
stop
start
within "$patience" says 'connect' || fail "a server that is away: $(field .trail)"
expect 'events of it' 2 "$(events kind=sealing | jq -c 'select(.outcome == "copy-failed")' | wc -l)"
stop

# One that takes the connection and never says a word: the service answers, works and ends.
listen silent
begin "http://127.0.0.1:$(cat "$scratch/port")/"
drop_pair J4418 C 4418
becomes released J4418 C
writer() { # PLACE
	pgrep -f "yoke-carrier checkpoints $1"
}
within "$patience" writer "http://127.0.0.1:$(cat "$scratch/port")/" || fail 'nothing is sent to a server that says nothing'
begun=$(date +%s)
stop
[ $(($(date +%s) - begun)) -le 10 ] || fail 'the end waits for a server that says nothing'
stop_listening

# --- A mount that hangs: its writer cannot even be killed ---

image=$scratch/disk
mnt=$scratch/mnt
mkdir "$mnt"
truncate -s 20M "$image"
if mkfs.ext4 -q "$image" 2>/dev/null && mount -o loop "$image" "$mnt" 2>/dev/null; then
	mounted=$mnt
	heard=$mnt/trail
	begin "file:$mnt/trail"
	within "$patience" all_there || fail "not everything is on the disk: $(field .trail)"
	# Whatever happens, it is thawed: else its writer stays for ever.
	(sleep 60; fsfreeze -u "$mnt") >/dev/null 2>&1 &
	thaw=$!
	fsfreeze -f "$mnt"
	drop_pair J4419 C 4419
	becomes released J4419 C
	within "$patience" writer "file:$mnt/trail" || fail 'nothing is written to the frozen disk'
	i=0
	while [ $i -lt 20 ]; do # the service answers at once, all the time
		curl -sf --max-time 1 --unix-socket "$home/yoke.sock" http://yoke/v1/status >/dev/null ||
			fail 'the service hangs with the disk'
		i=$((i + 1))
	done
	expect 'writers at once' 1 "$(writer "file:$mnt/trail" | wc -l)"
	begun=$(date +%s)
	stop
	[ $(($(date +%s) - begun)) -le 10 ] || fail 'the end waits for a disk that hangs'
	fsfreeze -u "$mnt"
	kill "$thaw"
	no_writer() {
		! writer "file:$mnt/trail"
	}
	within "$patience" no_writer || fail 'the writer does not end'
	start
	within "$patience" all_there || fail "not everything is on the disk: $(field .trail)"
	"$yoke" audit verify --home "$home" --against "$heard" >"$scratch/verdict" 2>&1 ||
		fail "what is on the disk does not fit: $(cat "$scratch/verdict")"
	stop
	umount "$mnt"
	mounted=
	heard=$scratch/heard
else
	echo 'not tested: a mount that hangs (no loop device, or no ext4)'
fi

# --- The system's log ---

if [ "$(id -u)" = 0 ] && [ ! -e /dev/log ]; then
	rm -f "$heard"
	made_log=yes
	listen log
	begin syslog:
	within "$patience" all_there || fail "not everything is in the log: $(field .trail)"
	fits "$(field .trail.number)"
	# Other programs may log there too.
	grep -q '^<85>.* yoke-carrier\[[0-9]*\]: yoke checkpoint |yoke/' "$heard" || fail "the log: $(head -n 3 "$heard")"
	# Who takes the last entries off the trail does not take them off the log.
	stop
	cp "$home/vault/yoke.db" "$scratch/cut"
	begin syslog:
	within "$patience" all_there || fail "not everything is in the log: $(field .trail)"
	stop
	stop_listening
	rm -f /dev/log
	rm -f "$home/vault/yoke.db"-* "$home/vault/yoke.db.end"
	cp "$scratch/cut" "$home/vault/yoke.db"
	settings settle_ms 100
	start
	expect 'a trail that was cut' 1 \
		"$("$yoke" audit verify --home "$home" --against "$heard" >"$scratch/verdict" 2>&1 && echo 0 || echo $?)"
	expect_in 'a trail that was cut' 'NOT GOOD: entry' "$(tail -n 1 "$scratch/verdict")"
	stop
else
	echo 'not tested: a log (there is one already, or it cannot be made)'
fi
