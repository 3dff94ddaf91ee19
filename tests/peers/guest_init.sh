# How the first process of a guest begins, from busybox's shell: the file systems, the drivers; $b is busybox, whose shell
# takes its own commands for others', and is not the one for the tests.
b=/usr/bin/busybox
$b mount -t devtmpfs dev /dev
$b mount -t proc proc /proc
$b mount -t sysfs sys /sys
$b mount -t tmpfs tmp /tmp
export PATH=/usr/bin LC_ALL=C HOME=/
while read -r module; do
	$b insmod "$module" || echo "insmod $module failed"
done </etc/modules.order
