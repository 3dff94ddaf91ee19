#!/bin/busybox sh
# shellcheck shell=dash
# The guest's first process: loads the drivers, says that it is ready, and takes commands from its console.
/bin/busybox mount -t devtmpfs dev /dev
/bin/busybox mount -t proc proc /proc
/bin/busybox mount -t sysfs sys /sys
/bin/busybox mount -t tmpfs tmp /tmp
/bin/busybox --install -s /bin
export PATH=/bin
while read -r module; do
	insmod "$module" || echo "insmod $module failed"
done </etc/modules.order
cd /tmp || exit
stty -echo
echo GUEST READY
while read -r command; do
	eval "$command" 2>&1
	echo "<$?>"
done
