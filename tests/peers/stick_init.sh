#!/usr/bin/busybox sh
# shellcheck shell=dash
# The guest's first process: loads the drivers, runs the tests with a stick one after the other, and ends.
# shellcheck source=tests/peers/guest_init.sh
. /guest_init.sh
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
