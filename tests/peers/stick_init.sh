#!/usr/bin/busybox sh
# shellcheck shell=dash
# The guest's first process: loads the drivers, runs the tests with a stick one after the other, and ends.
b=/usr/bin/busybox # whose shell takes its own commands for others', and is not the one for the tests
$b mount -t devtmpfs dev /dev
$b mount -t proc proc /proc
$b mount -t sysfs sys /sys
$b mount -t tmpfs tmp /tmp
export PATH=/usr/bin LC_ALL=C HOME=/
while read -r module; do
	$b insmod "$module" || echo "insmod $module failed"
done </etc/modules.order
for case in stick stick_trouble; do
	if /usr/bin/dash /tests/fault/$case.sh /build >/tmp/said 2>&1 && grep -q '^the stick: FAT$' /tmp/said; then
		echo "CASE $case: good"
	else
		echo "CASE $case: bad"
	fi
	sed 's/^/  /' /tmp/said
done
echo GUEST ENDS
$b sync
$b poweroff -f
