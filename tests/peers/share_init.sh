#!/usr/bin/busybox sh
# shellcheck shell=dash
# The guest's first process: loads the drivers, brings up the network to its host, and tests a share of each kind in /etc/shares.
b=/usr/bin/busybox # whose shell takes its own commands for others', and is not the one for the tests
$b mount -t devtmpfs dev /dev
$b mount -t proc proc /proc
$b mount -t sysfs sys /sys
$b mount -t tmpfs tmp /tmp
export PATH=/usr/bin LC_ALL=C HOME=/
while read -r module; do
	$b insmod "$module" || echo "insmod $module failed"
done </etc/modules.order
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
