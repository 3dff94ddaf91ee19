#!/bin/sh
# Goal: the tests with a stick, on the kernel's own FAT: names, case, two-second times, missing permissions, a card
# that is full or write-protected, and reading past the cache are real there; in a guest of QEMU with Debian's kernel,
# since not every kernel has FAT. Closes with "N passed, N failed".
# usage: stick.sh [BUILD], build-gcc without; the kernel is fetched once into BUILD/guest
set -eu
cd "$(dirname "$0")/../.."
. tests/need.sh
. tests/peers/kernel.sh
build=$(realpath "${1:-build-gcc}")
for program in daemon/yoked daemon/yoke-carrier cli/yoke; do
	[ -x "$build/$program" ] || { echo "$build/$program is missing: build first"; exit 1; }
done
need_guest
need dosfstools jq curl procps util-linux findutils diffutils
work=$build/guest
mkdir -p "$work"
guest_kernel "$work"

scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT INT TERM
root=$scratch/root
mkdir -p "$root/usr/bin" "$root/usr/lib" "$root/usr/lib64" "$root/dev" "$root/proc" "$root/sys" "$root/tmp" "$root/etc" \
	"$root/build/daemon" "$root/build/cli" "$root/tests"
for folder in bin lib lib64; do ln -s usr/$folder "$root/$folder"; done
ln -s bin "$root/usr/sbin"
ln -s bin "$root/sbin"
echo 'root:x:0:0:root:/:/bin/sh' >"$root/etc/passwd"
guest_drivers "$work" "$root" loop vfat nls_cp437 nls_ascii nls_utf8
cp "$work/unpacked/bin/busybox" "$root/usr/bin/"

# What the tests call.
for name in dash cat cp mv rm mkdir rmdir ls touch stat date sleep head tail cut sort wc grep sed mawk find dd mktemp sha256sum \
	cmp diff tr env id mount umount pgrep seq dirname basename jq curl mkfs.vfat fsck.vfat chmod ln sync; do
	from=$(command -v $name) || { echo "$name is missing"; exit 1; }
	cp -L "$from" "$root/usr/bin/$name"
done
ln -s dash "$root/usr/bin/sh"
ln -s mawk "$root/usr/bin/awk"
for program in daemon/yoked daemon/yoke-carrier cli/yoke; do cp "$build/$program" "$root/build/$program"; done
guest_libraries "$root" "$root"/usr/bin/* "$root"/build/*/*
cp -r tests/scenario tests/fault "$root/tests/"
install -m 755 tests/peers/stick_init.sh "$root/init"
(cd "$root" && find . | LC_ALL=C sort | cpio -o -H newc --quiet | gzip -1) >"$scratch/initrd"

status=0
timeout 600 qemu-system-x86_64 -accel tcg -M pc -m 1024 -smp 2 -display none -nodefaults -no-reboot \
	-kernel "$work/vmlinux" -initrd "$scratch/initrd" -serial "file:$scratch/console" \
	-append 'console=ttyS0 quiet mitigations=off audit=0 random.trust_cpu=on panic=-1' </dev/null || status=$?
tr -d '\r' <"$scratch/console" | grep -aE '^(CASE|  )' || true
passed=$(grep -acE '^CASE .* good' "$scratch/console") || true
failed=$(grep -acE '^CASE .* bad' "$scratch/console") || true
grep -aq '^GUEST ENDS' "$scratch/console" || { tail -n 40 "$scratch/console"; failed=$((failed + 1)); }
echo "$passed passed, $failed failed"
[ "$failed" = 0 ] && [ "$passed" -gt 0 ]
