# Debian's own kernel for a guest of QEMU, to be sourced after need.sh, from the top of the tree. The packages are unpacked, not
# installed.
need_guest() {
	need qemu-system-x86 cpio kmod xz-utils gzip python3
}

# What the guests want of the kernel's drivers and file systems.
guest_modules="drivers/usb drivers/block fs/fat fs/nls"

fetch_packages() { # WORK
	kernel=$(apt-cache depends linux-image-amd64 | awk '/Depends: linux-image/ { print $2; exit }')
	[ -n "$kernel" ] && (cd "$1/package" && apt-get -qq download "$kernel" busybox-static 2>&1)
}

# guest_kernel WORK: the kernel as WORK/vmlinux, its modules and busybox in WORK/unpacked; fetched once.
guest_kernel() {
	[ ! -f "$1/vmlinux" ] || [ -z "$(find "$1/unpacked" -name 'vfat.ko*' -print -quit)" ] || return 0
	rm -rf "$1/package" "$1/unpacked" "$1/vmlinux"
	mkdir -p "$1/package" "$1/unpacked"
	if ! fetch_packages "$1" >"$1/said"; then
		[ "$(id -u)" != 0 ] || apt-get update -qq
		fetch_packages "$1" >"$1/said" || { cat "$1/said"; exit 1; }
	fi
	wanted=
	for folder in $guest_modules; do wanted="$wanted ./lib/modules/*/$folder/*"; done
	for package in "$1"/package/*.deb; do
		# Each package has some of these.
		# shellcheck disable=SC2086
		dpkg-deb --fsys-tarfile "$package" | (set -f; tar -x -C "$1/unpacked" --wildcards \
			'./bin/busybox' './boot/vmlinuz-*' './lib/modules/*/modules.*' $wanted 2>/dev/null) || true
	done
	depmod -b "$1/unpacked" "$(ls "$1/unpacked/lib/modules")"
	python3 tests/peers/uart_unpack.py "$1"/unpacked/boot/vmlinuz-* "$1/vmlinux.new"
	rm -r "$1/package"
	mv "$1/vmlinux.new" "$1/vmlinux"
}

# guest_drivers WORK ROOT MODULE...: these and what they need, and their order, into the guest's root.
guest_drivers() {
	guest_work=$1 guest_root=$2
	shift 2
	mkdir -p "$guest_root/modules" "$guest_root/etc"
	for module; do
		modprobe -d "$guest_work/unpacked" -S "$(ls "$guest_work/unpacked/lib/modules")" --show-depends "$module"
	done | awk '$1 == "insmod" && !seen[$2]++ { print $2 }' >"$guest_root/etc/modules.from"
	while read -r module; do
		cp "$module" "$guest_root/modules/"
		echo "/modules/${module##*/}" >>"$guest_root/etc/modules.order"
	done <"$guest_root/etc/modules.from"
}

# guest_libraries ROOT PROGRAM...: the libraries that they need, where they look for them.
guest_libraries() {
	guest_root=$1
	shift
	ldd "$@" 2>/dev/null | grep -oE '/[^ ]*/lib[^ ]*|/lib[^ ]*' | sort -u | while read -r library; do
		[ -f "$library" ] || continue
		mkdir -p "$guest_root$(dirname "$library")"
		cp -L "$library" "$guest_root$library"
	done
}
