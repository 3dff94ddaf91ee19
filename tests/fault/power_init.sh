#!/usr/bin/busybox sh
# shellcheck shell=dash
# The guest's first process: loads the drivers, mounts the disk whose power is cut, and runs the day on it.
# shellcheck source=tests/peers/guest_init.sh
. /guest_init.sh
$b mkdir -p /mnt
if ! $b mount -t ext4 /dev/vda /mnt; then
	echo '  FAILED: the disk cannot be mounted'
	$b dmesg | $b tail -n 10
	$b poweroff -f
fi
/usr/bin/dash /tests/fault/power_guest.sh /build 2>&1 </dev/null | $b sed 's/^/  /'
echo GUEST ENDS
$b poweroff -f
