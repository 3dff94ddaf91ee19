#!/bin/sh
# Goal: the carrier, through the real library and the kernel's real drivers, sets a port as asked, loses no character, is
# braked in time, and tells a port that goes away; by a guest of QEMU with Debian's kernel, 16550 ports and an adapter on
# USB. A line for each case; closes with "N passed, N failed".
# usage: uart.sh [--short] [BUILD], build-gcc without; the kernel is fetched once into BUILD/uart
set -eu
cd "$(dirname "$0")/../.."
. tests/need.sh
short=
[ "${1:-}" != --short ] || { short=--short; shift; }
build=$(realpath "${1:-build-gcc}")
carrier=$build/daemon/yoke-carrier
yoke=$build/cli/yoke
for program in "$carrier" "$yoke"; do
	[ -x "$program" ] || { echo "$program is missing: build first"; exit 1; }
done
need qemu-system-x86 cpio kmod xz-utils gzip python3 gcc libc6-dev
export PYTHONDONTWRITEBYTECODE=1
peers=$(realpath tests/peers)
work=$build/uart
mkdir -p "$work"

# The packages are unpacked here, not installed: the kernel, its drivers for USB, and a shell for the guest.
fetch() {
	kernel=$(apt-cache depends linux-image-amd64 | awk '/Depends: linux-image/ { print $2; exit }')
	[ -n "$kernel" ] && (cd "$work/package" && apt-get -qq download "$kernel" busybox-static 2>&1)
}
if [ ! -f "$work/vmlinux" ]; then
	rm -rf "$work/package" "$work/unpacked"
	mkdir "$work/package" "$work/unpacked"
	if ! fetch >"$work/said"; then
		[ "$(id -u)" != 0 ] || apt-get update -qq
		fetch >"$work/said" || { cat "$work/said"; exit 1; }
	fi
	for package in "$work"/package/*.deb; do
		dpkg-deb --fsys-tarfile "$package" | tar -x -C "$work/unpacked" --wildcards \
			'./bin/busybox' './boot/vmlinuz-*' './lib/modules/*/modules.*' './lib/modules/*/drivers/usb/*' \
			2>/dev/null || true # each package has some of these
	done
	depmod -b "$work/unpacked" "$(ls "$work/unpacked/lib/modules")"
	python3 "$peers/uart_unpack.py" "$work"/unpacked/boot/vmlinuz-* "$work/vmlinux.new"
	rm -r "$work/package"
	mv "$work/vmlinux.new" "$work/vmlinux"
fi

scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT INT TERM
root=$scratch/root
mkdir -p "$root/bin" "$root/dev" "$root/proc" "$root/sys" "$root/tmp" "$root/etc" "$root/modules"
cp "$work/unpacked/bin/busybox" "$root/bin/"
ln -s busybox "$root/bin/sh"
for module in uhci_hcd ftdi_sio; do
	modprobe -d "$work/unpacked" -S "$(ls "$work/unpacked/lib/modules")" --show-depends "$module"
done | awk '$1 == "insmod" && !seen[$2]++ { print $2 }' >"$scratch/modules"
while read -r module; do
	cp "$module" "$root/modules/"
	echo "/modules/${module##*/}" >>"$root/etc/modules.order"
done <"$scratch/modules"
cp "$carrier" "$yoke" "$root/bin/"
ldd "$carrier" "$yoke" | grep -oE '/lib[^ ]*' | sort -u | while read -r library; do
	mkdir -p "$root$(dirname "$library")"
	cp -L "$library" "$root$library"
done
install -m 755 "$peers/uart_init.sh" "$root/init"
python3 "$peers/uart_cases.py" programs "$root"
(cd "$root" && find . | LC_ALL=C sort | cpio -o -H newc --quiet | gzip -1) >"$scratch/initrd"
gcc -shared -fPIC -O1 -Wall -D_GNU_SOURCE -o "$scratch/modem.so" "$peers/uart_modem.c" -ldl
python3 "$peers/uart_cases.py" run $short "$scratch" "$work/vmlinux" "$scratch/initrd" "$scratch/modem.so"
