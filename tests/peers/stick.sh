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
need_guest
need dosfstools
work=$build/guest
mkdir -p "$work"
guest_kernel "$work"

scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT INT TERM
root=$scratch/root
guest_shop "$work" "$root" "$build" mkfs.vfat fsck.vfat
guest_drivers "$work" "$root" loop vfat nls_cp437 nls_ascii nls_utf8
install -m 755 tests/peers/stick_init.sh "$root/init"
guest_runs "$scratch" "$work" 600 -accel tcg
