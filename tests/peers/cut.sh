#!/bin/sh
# Goal: when the cable of a device server is pulled, without a word from anybody, the order ends in
# seconds and says so: while the control is held, while characters are on their way, and before the
# control asked. When it is in again soon, the connection is not left before the server has had the
# time to send what came then. The network is a pair of interfaces in a namespace of its own, one of
# which goes down.
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
# it holds with DC3, at port 2 it goes on reading, at port 3 it never asks; at port 4 it asks when it
# may, and tells when the last characters came, how many, and when the connection was left.
cat >server.py <<'END'
import os, socket, threading, time
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
def patient(port):
    s = socket.socket()
    s.bind(("192.0.2.2", port))
    s.listen(1)
    c, _ = s.accept()
    while not os.path.exists("ask"):
        time.sleep(0.01)
    c.send(b"\x11")
    came = []
    while True:
        b = c.recv(4096)
        came.append((time.time(), len(b)))
        if len(came) == 1:
            open("begun", "w").close()
        if not b:
            break
    last = came[-2][0]
    with open("left", "w") as f:
        print(sum(n for t, n in came if last - t < 0.2), int(1000 * (came[-1][0] - last)), file=f)
threading.Thread(target=patient, args=(4,)).start()
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

# The end of a program on a slow line, on its way while the cable is out: 110 baud, 100 ms a character.
{ printf '%%\nO4(JOB 4 REV A UPPER)\n' && yes 'N10 G01 X10. Z-20. F0.2' | head -n 2 && printf 'M30\n%%\n'; } >4-A.upper.nc
cat >4.conf <<-END
	[line]
	kind = serial
	address = tcp://192.0.2.2:4
	baud = 110
	framing = 8n2
	code = iso
	open_ms = 5000
	stall_ms = 120000
END
"$build/daemon/yoke-carrier" send 4.conf upper=4-A.upper.nc >4.said 2>&1 &
waited=$!
started="$started $waited"
within 5 grep -qs 'waiting for the control' 4.said || fail 'the fourth does not wait'
: >ask
within 5 test -e begun || fail 'the fourth does not send'
ip link set here down
sleep 4
ip link set here up
wait "$waited" || fail 'the fourth was not done'
within 5 test -e left || fail 'the fourth did not leave'
read -r characters after <left
echo "4: $characters characters came after the cable, and the connection was left $after ms later"
[ "$after" -ge $((characters * 100 - 300)) ] || fail 'left before they had time to leave the server'
rm 4.said

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
