# Goal: in the guest: the real carrier over the kernel's own client of SMB or NFS and a real server: a pair goes as one; a
# server that stands still, dies in the middle or takes nothing, and a program that somebody else has open, end in their
# named outcomes, and afterwards the order is done. usage: share_guest.sh BUILD smb DIALECT | BUILD nfs hard|soft
kind=$2 how=$3
. /tests/fault/shop.sh
read -r ask_port share_port </etc/ports
host() {
	printf '%s\n' "$*" | busybox nc 10.0.2.2 "$ask_port"
}
reached() { [ "$(host hello)" = here ]; }
within 30 reached || fail 'the host does not answer'
host read-only no >/dev/null
at=$scratch/LATHE1
mkdir -p "$at"
if [ "$kind" = smb ]; then
	from=//10.0.2.2/yoke type=cifs options="ip=10.0.2.2,port=$share_port,username=root,password=bench,vers=$how"
else
	from=10.0.2.2:/yoke type=nfs4
	options="addr=10.0.2.2,clientaddr=10.0.2.15,port=$share_port,vers=4.2,proto=tcp,sec=sys,$how,timeo=20,retrans=2"
fi
if ! mount -i -t $type $from "$at" -o "$options" 2>"$scratch/why"; then
	echo "not mounted: $(cat "$scratch/why")"
	[ "$how" = 1.0 ] && echo 'the server or this kernel does not offer the old dialect any more'
	exit 1
fi
mounted=$at
grep " $at " /proc/mounts | sed -n 's/.*\(vers=[^,]*\).*\(cache=[^,]*\|hard\|soft\),.*/\1 \2/p'
share LATHE1 'retry_s = 300'
share LOCAL
settings settle_ms 100
start
for revision in C D; do
	drop_long J4417 $revision 4417 60000
	becomes released J4417 $revision
done
ms() { echo $(($(date +%s%N) / 1000000)); }
server_holds() { # REVISION
	[ "$(host sums)" = "J4417_lower.NC $(sum "$programs/J4417-$1.lower.nc") J4417_upper.NC $(sum "$programs/J4417-$1.upper.nc")" ]
}
expect_server() {
	server_holds "$1" || fail "the server does not hold revision $1: $(host sums); $(trail)"
	[ -z "$(host left)" ] || fail "left over: $(host left)"
}
again() { [ "$(events 'kind=kept&machine=LATHE1' | jq -r 'select(.outcome == "again") | .seq' | wc -l)" -gt "$1" ]; }
tried_or_over() { again "$tries" || over "$order"; }
agains() { events 'kind=kept&machine=LATHE1' | jq -r 'select(.outcome == "again") | .seq' | wc -l; }

# A pair, first and over an old one; and back.
from=$(ms)
carried J4417 C LATHE1
echo "first pair: $(($(ms) - from)) ms for $(cat "$programs"/J4417-C.*.nc | wc -c) bytes"
expect_server C
from=$(ms)
carried J4417 D LATHE1
echo "over an old pair: $(($(ms) - from)) ms; steps: $(events 'kind=step&machine=LATHE1' | jq -r .outcome | tr '\n' ' ')"
expect_server D
order LATHE1/fetch
expect 'a fetch' done "$(outcome_of "$order")"
expect_machine LATHE1 'loaded J4417@D read back'

# Somebody has a program open, over a connection of his own, as a control that runs it. NFS lets it be replaced.
if [ "$kind" = smb ]; then
	mkdir "$scratch/other"
	mount -i -t cifs //10.0.2.2/yoke "$scratch/other" -o "$options,nosharesock" || fail 'no second mount'
	mounted="$mounted $scratch/other"
	exec 9<"$scratch/other/CH2/J4417_lower.NC"
	tries=$(agains)
	send J4417 C LATHE1
	within 60 tried_or_over || fail "the order onto an open program does not end: $(trail)"
	echo "onto an open program: $(order_state "$order"): $(api "/v1/orders/$order" | jq -r .text)"
	exec 9<&-
	expect 'the order after the program was closed' done "$(outcome_of "$order")"
	umount "$scratch/other"
else
	carried J4417 C LATHE1
fi
expect_server C

# The server stands still: nobody else waits, and the order is done when it goes on.
host freeze >/dev/null
from=$(ms)
send J4417 D LATHE1
waits=$order
carried J4417 C LOCAL
order=$waits
echo "an order to another machine beside a server that stands still: $(($(ms) - from)) ms"
tries=$(agains)
stands() { [ "$(of LATHE1 .abandoned)" = true ] || again "$tries"; }
within 60 stands || fail "nothing comes of a server that stands still: $(trail)"
echo "a server that stands still: after $(($(ms) - from)) ms: $(events 'machine=LATHE1' | tail -n 1 | jq -r '.kind + ": " + .text')"
host thaw >/dev/null
expect 'the order when it goes on' done "$(outcome_of "$order")"
expect_server D

# It dies in the middle of writing and is started again: the mount comes back by itself, and the share is looked at. Over
# the old dialect the kernel's client was seen to write on and on without a handle then, and the carrier hung with it.
if [ "$how" != 1.0 ]; then
	host kill-at part >/dev/null
	from=$(ms)
	send J4417 C LATHE1
	ended() { [ "$(host alive)" = no ] && [ "$(of LATHE1 .progress)" = null ]; }
	within 60 ended || fail "the carrier goes on beside a dead server: $(trail)"
	echo "killed while writing: the carrier was ended $(($(ms) - from)) ms after the order; the machine is $(of LATHE1 "$in_short")"
	host start >/dev/null
	patience=180
	end_of=$(outcome_of "$order")
	echo "$(($(ms) - from)) ms after the order: $end_of: $(api "/v1/orders/$order" | jq -r .text)"
	carried J4417 C LATHE1
	expect_server C
fi

# It takes nothing for a while.
host read-only yes >/dev/null
tries=$(agains)
send J4417 D LATHE1
within 60 tried_or_over || fail "an order to a read-only share: $(trail)"
said=$(api "/v1/orders/$order" | jq -r .text)
echo "read-only: $(order_state "$order"): $said"
case $said in
*'Permission denied; nothing was changed' | *'Read-only file system; nothing was changed') ;;
*) fail "a read-only share: $said" ;;
esac
host read-only no >/dev/null
expect 'the order when it is writable again' done "$(outcome_of "$order")"
expect_server D
expect_machine LATHE1 'loaded J4417@D read back'
sound
stop
umount "$at"
mounted=
