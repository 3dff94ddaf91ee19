#!/bin/sh
# Goal: the carrier, through the real library and the kernel's real drivers, sets a port as asked, loses no character, is
# braked in time, and tells a port that goes away; by a guest of QEMU with Debian's kernel, 16550 ports and an adapter on
# USB. A line for each case; closes with "N passed, N failed".
# usage: uart.sh [--short] [BUILD], build-gcc without; the kernel is fetched once into BUILD/guest
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
. tests/peers/kernel.sh
need_guest
need gcc libc6-dev
export PYTHONDONTWRITEBYTECODE=1
peers=$(realpath tests/peers)
work=$build/guest
mkdir -p "$work"

guest_kernel "$work"

scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT INT TERM
root=$scratch/root
mkdir -p "$root/bin" "$root/dev" "$root/proc" "$root/sys" "$root/tmp" "$root/etc" "$root/modules"
cp "$work/unpacked/bin/busybox" "$root/bin/"
ln -s busybox "$root/bin/sh"
guest_drivers "$work" "$root" uhci_hcd ftdi_sio
cp "$carrier" "$yoke" "$root/bin/"
guest_libraries "$root" "$carrier" "$yoke"
install -m 755 "$peers/uart_init.sh" "$root/init"
python3 "$peers/uart_cases.py" programs "$root"
(cd "$root" && find . | LC_ALL=C sort | cpio -o -H newc --quiet | gzip -1) >"$scratch/initrd"
gcc -shared -fPIC -O1 -Wall -D_GNU_SOURCE -o "$scratch/modem.so" "$peers/uart_modem.c" -ldl
python3 "$peers/uart_cases.py" run $short "$scratch" "$work/vmlinux" "$scratch/initrd" "$scratch/modem.so"
