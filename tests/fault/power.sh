#!/bin/sh
# Goal: the power is cut at random moments of a busy day: a guest of QEMU works on a disk that loses what was written and not
# flushed, any part of it in any order. After each cut the disk is mounted again, yoked starts, the trail verifies, no half
# pair is called loaded, and whatever was answered before the cut is still so. Closes with its counts.
# usage: power.sh [BUILD] [CUTS], build-gcc and 3 without; the kernel is fetched once into BUILD/guest
set -eu
cd "$(dirname "$0")/../.."
. tests/need.sh
. tests/peers/kernel.sh
build=$(realpath "${1:-build-gcc}")
cuts=${2:-3}
seed=${YOKE_SEED:-$(date +%s)}
need_guest
need e2fsprogs
work=$build/guest
mkdir -p "$work"
guest_kernel "$work"

scratch=$(mktemp -d)
server=
guest=
end() {
	status=$?
	trap - EXIT INT TERM
	for one in $guest $server; do kill -9 "$one" 2>/dev/null || true; done
	[ $status = 0 ] || { echo "seed $seed; the end of the guest's console:"; grep -a -A 12 "FAILED" "$scratch/console" || tail -n 30 "$scratch/console" 2>/dev/null; }
	rm -rf "$scratch"
	exit $status
}
trap end EXIT
trap 'exit 130' INT TERM
root=$scratch/root
guest_shop "$work" "$root" "$build"
guest_drivers "$work" "$root" virtio_pci virtio_blk ext4 crc32c_generic
install -m 755 tests/fault/power_init.sh "$root/init"

truncate -s 160M "$scratch/disk"
mkfs.ext4 -q -F "$scratch/disk"
mkfifo "$scratch/ask"
python3 tests/fault/power_disk.py "$scratch/disk" "$scratch/nbd" "$seed" <"$scratch/ask" >"$scratch/said" &
server=$!
exec 9>"$scratch/ask"
until grep -q ready "$scratch/said"; do
	kill -0 $server 2>/dev/null || { echo "the disk does not start"; exit 1; }
	sleep 0.1
done

has() { # TEXT SECONDS
	has_end=$(($(date +%s) + $2))
	until grep -aq "$1" "$scratch/console" 2>/dev/null; do
		[ "$(date +%s)" -lt "$has_end" ] && kill -0 "$guest" 2>/dev/null || return 1
		sleep 0.2
	done
}
boot() {
	cp "$scratch/acks" "$root/acks"
	(cd "$root" && find . | LC_ALL=C sort | cpio -o -H newc --quiet | gzip -1) >"$scratch/initrd"
	: >"$scratch/console"
	: >"$scratch/words"
	qemu-system-x86_64 -M pc -m 1024 -smp 2 -display none -nodefaults -no-reboot -accel tcg -kernel "$work/vmlinux" \
		-initrd "$scratch/initrd" -serial "file:$scratch/console" -serial "file:$scratch/words" \
		-append 'console=ttyS0 quiet mitigations=off audit=0 random.trust_cpu=on panic=-1' \
		-drive "file=nbd:unix:$scratch/nbd,format=raw,if=virtio,cache=none" </dev/null >"$scratch/qemu" 2>&1 &
	guest=$!
}
bad() {
	echo "FAILED: $*"
	exit 1
}
random() { # MOST
	seed=$(((seed * 1103515245 + 12345) & 2147483647))
	echo $((seed / 65536 % $1))
}

: >"$scratch/acks"
echo "seed $seed"
done_cuts=0
while [ $done_cuts -le "$cuts" ]; do
	[ $done_cuts -lt "$cuts" ] || : >"$root/last"
	boot
	has '^CASE check: good' 400 || bad "after $done_cuts cuts: $(cat "$scratch/qemu")"
	grep -a '^CASE check' "$scratch/console" | tr -d '\r'
	if [ $done_cuts = "$cuts" ]; then
		has '^GUEST ENDS' 120 || bad 'the guest does not end'
		wait $guest || true
		guest=
		break
	fi
	has '^WORKING' 60 || bad 'the day does not begin'
	random 9000 >"$scratch/number"
	sleep "$(awk '{ print $1 / 1000 }' "$scratch/number")"
	random 300 >"$scratch/number"
	lines=$(wc -l <"$scratch/said")
	echo "cut $(($(cat "$scratch/number") + 1))" >&9
	until [ "$(wc -l <"$scratch/said")" -gt "$lines" ]; do sleep 0.1; done
	kill -9 $guest
	wait $guest 2>/dev/null || true
	guest=
	# A word that is cut off in the middle was not answered.
	tr -d '\r' <"$scratch/words" | awk 'NR > 1 { print last } { last = $0 }' >>"$scratch/acks"
	done_cuts=$((done_cuts + 1))
	echo "cut $done_cuts: $(tail -n 1 "$scratch/said"); $(wc -l <"$scratch/acks") words so far"
done
[ "$(wc -l <"$scratch/acks")" -gt "$cuts" ] || bad 'nothing was answered between the cuts'
dropped=$(sed -n 's/^dropped \([0-9]*\) of.*/\1/p' "$scratch/said" | awk '{ n += $1 } END { print n + 0 }')
echo "$done_cuts cuts, $dropped writes dropped; $(grep -c '^done' "$scratch/acks") orders, $(grep -c '^released' "$scratch/acks") pairs and $(grep -c '^program' "$scratch/acks") programs that were told to be done still are"
