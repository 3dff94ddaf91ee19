#!/bin/sh
# Goal: when the cable of a device server is pulled, without a word from anybody, the order ends in
# seconds and says so: while the control is held, while characters are on their way, and before the
# control asked. The network is a pair of interfaces in a namespace of its own, one of which goes down.
#
# usage: cut.sh BUILD
set -eu
if [ "${2-}" != inside ]; then
	. "$(dirname "$0")/../need.sh"
	need iproute2 python3 util-linux >/dev/null 2>&1 || { echo 'iproute2 and python3 are not there'; exit 77; }
	unshare -n true 2>/dev/null || { echo 'no namespace of its own for the network'; exit 77; }
	exec unshare -n sh "$0" "$1" inside
fi
build=$1
most=20 # seconds, on a busy machine; the kernel's probes take 10
. "$(dirname "$0")/lib.sh"

# The server's end of the cable, in one more namespace. It takes a little of each program: at port 1
# it holds with DC3, at port 2 it goes on reading, at port 3 it never asks.
cat >server.py <<'END'
import socket, threading, time
def serve(port):
    s = socket.socket()
    s.bind(("192.0.2.2", port))
    s.listen(4)
    c, _ = s.accept()
    if port != 3:
        c.send(b"\x11")
    if port == 1:
        c.recv(64)
        c.send(b"\x93")
        time.sleep(100)
    while c.recv(4096):
        pass
for port in (1, 2, 3):
    threading.Thread(target=serve, args=(port,)).start()
time.sleep(0.2)
open("ready", "w").close()
END
unshare -n sh -c 'echo up >here; until [ -e cable ]; do sleep 0.05; done
	ip addr add 192.0.2.2/24 dev there && ip link set there up && exec python3 server.py' &
server=$!
started="$started $server"
within 5 test -e here || fail 'no namespace for the server'
ip link add here type veth peer name there netns "$server" 2>/dev/null || { echo 'no pair of interfaces'; exit 77; }
ip addr add 192.0.2.1/24 dev here
ip link set here up
: >cable
within 10 test -e ready || fail 'the server does not start'

{ printf '%%\nO1(JOB 1 REV A UPPER)\n' && yes 'N10 G01 X10. Z-20. F0.2' | head -n 4000 && printf 'M30\n%%\n'; } >1-A.upper.nc
for i in 1 2 3; do
	cat >"$i.conf" <<-END
		[line]
		kind = serial
		address = tcp://192.0.2.2:$i
		baud = 38400
		framing = 8n1
		code = iso
		open_ms = 5000
		stall_ms = 120000
	END
	{
		status=0
		"$build/daemon/yoke-carrier" send "$i.conf" upper=1-A.upper.nc >"$i.said" 2>&1 || status=$?
		date +%s >"$i.ended"
	} &
	started="$started $!"
done
within 10 grep -qs 'upper: the control holds' 1.said || fail 'the first is not held'
within 10 grep -qs 'upper: sending' 2.said || fail 'the second does not send'
within 10 grep -qs 'waiting for the control' 3.said || fail 'the third does not wait'
sleep 1
ls ./*.ended 2>/dev/null && fail 'ended before the cut'
ip link set here down
cut=$(date +%s)

ended() { # NUMBER SECONDS WORDS...
	within "$2" test -e "$1.ended" || fail "$1: not ended in $2 s"
	echo "$1: ended $(($(cat "$1.ended") - cut)) s after the cut: $(tail -n 1 "$1.said")"
	grep -q "$3" "$1.said" || fail "$1: not said: $3"
}
ended 1 "$most" 'upper: the machine holds a part of the new program'
ended 2 "$most" 'upper: the machine holds a part of the new program'
# Nothing was sent: the connection is tried anew three times before that is told.
ended 3 $((most + 3 * 6)) 'upper: the machine holds what it held before'
