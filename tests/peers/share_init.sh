#!/usr/bin/busybox sh
# shellcheck shell=dash
# The guest's first process: loads the drivers, brings up the network to its host, and tests a share of each kind in /etc/shares.
# shellcheck source=tests/peers/guest_init.sh
. /guest_init.sh
$b ifconfig lo 127.0.0.1 up
$b ifconfig eth0 10.0.2.15 netmask 255.255.255.0 up
while read -r kind how; do
	$b rm -f /tmp/good
	{ /usr/bin/dash /tests/peers/share_guest.sh /build "$kind" "$how" 2>&1 </dev/null && : >/tmp/good; } | $b sed 's/^/  /'
	[ -e /tmp/good ] && echo "CASE $kind $how: good" || echo "CASE $kind $how: bad"
done </etc/shares
echo GUEST ENDS
$b sync
$b poweroff -f
