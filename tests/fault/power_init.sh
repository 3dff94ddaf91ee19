#!/usr/bin/busybox sh
# shellcheck shell=dash
# The guest's first process: loads the drivers, mounts the disk whose power is cut, and runs the day on it.
b=/usr/bin/busybox # whose shell takes its own commands for others', and is not the one for the tests
$b mount -t devtmpfs dev /dev
$b mount -t proc proc /proc
$b mount -t sysfs sys /sys
$b mount -t tmpfs tmp /tmp
export PATH=/usr/bin LC_ALL=C HOME=/
while read -r module; do
	$b insmod "$module" || echo "insmod $module failed"
done </etc/modules.order
$b mkdir -p /mnt
if ! $b mount -t ext4 /dev/vda /mnt; then
	echo '  FAILED: the disk cannot be mounted'
	$b dmesg | $b tail -n 10
	$b poweroff -f
fi
/usr/bin/dash /tests/fault/power_guest.sh /build 2>&1 </dev/null | $b sed 's/^/  /'
echo GUEST ENDS
$b poweroff -f
