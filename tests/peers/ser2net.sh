#!/bin/sh
# Goal: programs go through device servers of other makers and come back equal: ser2net with plain TCP
# and with RFC 2217, and socat; the port that RFC 2217 sets is set; and a server that does not speak
# what the address says is named before anything is sent.
#
#     yoke-carrier --TCP--> ser2net or socat --pseudo-terminal--> socat --TCP--> bench control
#
# usage: ser2net.sh BUILD
set -eu
build=$1
cd "$(dirname "$0")/../.."
. tests/need.sh
need ser2net socat >/dev/null 2>&1 || { echo 'ser2net and socat are not there'; exit 77; }
command -v ser2net >/dev/null || PATH=$PATH:/usr/sbin
demo=$PWD/tests/demo
. tests/peers/lib.sh

# Four ports that are free now.
ports=$(python3 -c 'import socket
s = [socket.socket() for _ in range(4)]
for x in s: x.bind(("127.0.0.1", 0))
print(*[x.getsockname()[1] for x in s])')
# shellcheck disable=SC2086
set -- $ports
raw=$1 com=$2 cat=$3 nobody=$4

# A control at the far end of the pseudo-terminal tty-NAME.
control() {
	"$build/tests/control/bench-control" --line 0 --speed 115200 --store "$1.store" --operator "$1.desk" --pause 100 \
		--with-parent >"$1.bench" &
	started="$started $!"
	within 5 grep -qs ready "$1.bench" || fail "the bench control of $1 does not start"
	socat "pty,raw,echo=0,link=tty-$1" "tcp:$(sed -n 's/^line //p' "$1.bench")" 2>"$1-pty.log" &
	started="$started $!"
	within 5 test -e "tty-$1" || fail "no pseudo-terminal for $1"
}
control raw
control com
control cat

cat >ser2net.yaml <<END
connection: &raw
  accepter: tcp,127.0.0.1,$raw
  connector: serialdev,$scratch/tty-raw,115200n81,local
connection: &com
  accepter: telnet(rfc2217),tcp,127.0.0.1,$com
  connector: serialdev,$scratch/tty-com,1200o81,local
END
ser2net -n -d -u -c ser2net.yaml >ser2net.log 2>&1 &
started="$started $!"
listens() {
	grep -qi "0100007F:$(printf %04X "$1") 00000000:0000 0A" /proc/net/tcp
}
for p in $raw $com; do within 5 listens "$p" || fail "nobody listens at $p"; done

line() { # NAME ADDRESS
	cat >"$1.conf" <<END
[line]
kind = serial
address = $2
baud = 115200
framing = 8n1
code = iso
first_ms = 8000
silence_ms = 1000
read_back_ms = 8000
open_ms = 5000
END
}
line raw "tcp://127.0.0.1:$raw"
line com "rfc2217://127.0.0.1:$com"
line cat "tcp://127.0.0.1:$cat"

carrier() { # NAME VERB WORD...: in the background, said in NAME.said
	verb=$2 name=$1
	shift 2
	rm -f "$name.said" # what was said before is not to be taken for this
	"$build/daemon/yoke-carrier" "$verb" "$name.conf" "$@" >"$name.said" 2>&1 &
	pid=$!
}

waits() { # NAME WORDS
	within 10 grep -qs "$2" "$1.said" || fail "$1 is not at '$2'"
}

operator() { # NAME COMMAND...
	desk=$1
	shift
	"$build/tests/control/bench-control" --ask "$desk.desk" "$@" >/dev/null
}

# One socat for each connection: one that is left over would take characters from the next.
serve() {
	[ "$1" = cat ] || return 0
	socat "tcp-listen:$cat,bind=127.0.0.1,reuseaddr" open:tty-cat,raw,echo=0 2>socat.log &
	served=$!
	started="$started $served"
	within 5 listens "$cat" || fail 'socat does not listen'
}
served() {
	[ "$1" != cat ] || wait "$served" || fail 'socat has failed'
}

# The operator reads both programs, and punches them: equal to the byte.
there_and_back() {
	serve "$1"
	carrier "$1" send "upper=$demo/J4417-C.upper.nc" "lower=$demo/J4417-C.lower.nc"
	waits "$1" 'upper: waiting for the control'
	sleep 0.5 # a server may open its port after it has taken the connection: what comes before is nobody's
	operator "$1" read upper
	waits "$1" 'lower: waiting for the control'
	operator "$1" read lower
	wait "$pid" || fail "send over $1"
	served "$1"
	for c in upper lower; do
		within 2 cmp -s "$1.store/$c/O4417.nc" "$demo/J4417-C.$c.nc" || fail "the control of $1 holds another $c"
	done
	serve "$1"
	carrier "$1" fetch "upper=$1.upper" "lower=$1.lower"
	waits "$1" 'upper: waiting for the control to punch'
	sleep 0.5
	operator "$1" punch upper
	waits "$1" 'lower: waiting for the control to punch'
	operator "$1" punch lower
	wait "$pid" || fail "fetch over $1"
	served "$1"
	for c in upper lower; do
		cmp "$1.$c" "$demo/J4417-C.$c.nc" || fail "what came back over $1 is another $c"
	done
	echo "$1: there and back, equal"
}
there_and_back raw
there_and_back com
there_and_back cat

refused() { # NAME WORDS
	carrier "$1" send "upper=$demo/J4417-C.upper.nc"
	wait "$pid" && fail "$1 was not refused"
	grep -q "$2" "$1.said" || fail "$1: not said: $2"
	echo "$1: $2"
}
line plain "rfc2217://127.0.0.1:$raw"
refused plain 'does not answer as RFC 2217 wants it'
line telnet "tcp://127.0.0.1:$com"
refused telnet 'speaks telnet at this port'
line gone "rfc2217://127.0.0.1:$nobody"
refused gone 'does not answer (Connection refused)'
# A port that is in use: ser2net says so in words, which are no characters of the control.
carrier com fetch "upper=again.upper"
waits com 'upper: waiting for the control to punch'
# Meanwhile the port is as we have set it: it was 1200 8O1 in ser2net's own file.
case $(stty -F tty-com) in
*'speed 115200 '*) ;;
*) fail "the port is not set: $(stty -F tty-com)" ;;
esac
line busy "rfc2217://127.0.0.1:$com"
first=$pid
refused busy 'in use'
kill "$first"
wait "$first" && fail 'a fetch that was ended is no success'
echo 'device servers: all well'
