# Debian's own kernel for a guest of QEMU, to be sourced after need.sh, from the top of the tree. The packages are unpacked, not
# installed.
need_guest() {
	need qemu-system-x86 cpio kmod xz-utils gzip python3
}

# What the guests want of the kernel's drivers and file systems.
guest_modules="drivers/usb drivers/block fs/fat fs/nls fs/smb fs/netfs fs/fscache fs/nfs fs/nfs_common fs/lockd net/sunrpc
	net/dns_resolver drivers/net/ethernet/intel/e1000 crypto lib/crypto drivers/virtio fs/ext4 fs/jbd2 fs/mbcache.ko
	lib/crc16.ko lib/libcrc32c.ko lib/crc-ccitt.ko"

fetch_packages() { # WORK
	kernel=$(apt-cache depends linux-image-amd64 | awk '/Depends: linux-image/ { print $2; exit }')
	[ -n "$kernel" ] && (cd "$1/package" && apt-get -qq download "$kernel" busybox-static 2>&1)
}

# guest_kernel WORK: the kernel as WORK/vmlinux, its modules and busybox in WORK/unpacked; fetched once.
guest_kernel() {
	[ ! -f "$1/vmlinux" ] || [ "$(cat "$1/modules" 2>/dev/null)" != "$guest_modules" ] || return 0
	rm -rf "$1/package" "$1/unpacked" "$1/vmlinux"
	mkdir -p "$1/package" "$1/unpacked"
	if ! fetch_packages "$1" >"$1/said"; then
		[ "$(id -u)" != 0 ] || apt-get update -qq
		fetch_packages "$1" >"$1/said" || { cat "$1/said"; exit 1; }
	fi
	wanted=
	for folder in $guest_modules; do wanted="$wanted ./lib/modules/*/$folder/* ./lib/modules/*/$folder"; done
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
	echo "$guest_modules" >"$1/modules"
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

# guest_shop WORK ROOT BUILD PROGRAM...: a root in which tests/fault/shop.sh works: yoked, its carrier, the command, the
# tests, and what they call; beside them these programs, and guest_init.sh for its init.
guest_shop() {
	shop_work=$1 shop_root=$2 shop_build=$3
	shift 3
	for program in daemon/yoked daemon/yoke-carrier cli/yoke; do
		[ -x "$shop_build/$program" ] || { echo "$shop_build/$program is missing: build first"; exit 1; }
	done
	need jq curl procps util-linux findutils diffutils
	mkdir -p "$shop_root/usr/bin" "$shop_root/usr/lib" "$shop_root/usr/lib64" "$shop_root/dev" "$shop_root/proc" \
		"$shop_root/sys" "$shop_root/tmp" "$shop_root/etc" "$shop_root/build/daemon" "$shop_root/build/cli" "$shop_root/tests"
	for folder in bin lib lib64; do ln -s usr/$folder "$shop_root/$folder"; done
	ln -s bin "$shop_root/usr/sbin"
	ln -s bin "$shop_root/sbin"
	echo 'root:x:0:0:root:/:/bin/sh' >"$shop_root/etc/passwd"
	echo 'root:x:0:' >"$shop_root/etc/group"
	cp "$shop_work/unpacked/bin/busybox" "$shop_root/usr/bin/"
	for name in dash cat cp mv rm mkdir rmdir ls touch stat date sleep head tail cut sort wc grep sed mawk find dd mktemp \
		sha256sum cmp diff tr env id mount umount pgrep seq dirname basename jq curl chmod ln sync "$@"; do
		from=$(command -v "$name") || { echo "$name is missing"; exit 1; }
		cp -L "$from" "$shop_root/usr/bin/$name"
	done
	ln -s dash "$shop_root/usr/bin/sh"
	ln -s mawk "$shop_root/usr/bin/awk"
	for program in daemon/yoked daemon/yoke-carrier cli/yoke; do
		cp "$shop_build/$program" "$shop_root/build/$program"
	done
	guest_libraries "$shop_root" "$shop_root"/usr/bin/* "$shop_root"/build/*/*
	cp -r tests/scenario tests/fault "$shop_root/tests/"
	cp tests/peers/guest_init.sh "$shop_root/"
}

# guest_runs SCRATCH WORK SECONDS [OPTION...]: runs the guest with the root in SCRATCH/root and the init in it, without its
# screen; what it says is in SCRATCH/console. Prints its cases, and closes with "N passed, N failed". Status 0: none failed.
guest_runs() {
	runs_scratch=$1 runs_work=$2 runs_most=$3
	shift 3
	(cd "$runs_scratch/root" && find . | LC_ALL=C sort | cpio -o -H newc --quiet | gzip -1) >"$runs_scratch/initrd"
	timeout "$runs_most" qemu-system-x86_64 -M pc -m 1024 -smp 2 -display none -nodefaults -no-reboot \
		-kernel "$runs_work/vmlinux" -initrd "$runs_scratch/initrd" -serial "file:$runs_scratch/console" \
		-append 'console=ttyS0 quiet mitigations=off audit=0 random.trust_cpu=on panic=-1' "$@" </dev/null || true
	tr -d '\r' <"$runs_scratch/console" | grep -aE '^(CASE|  )' || true
	passed=$(grep -acE '^CASE .* good' "$runs_scratch/console") || true
	failed=$(grep -acE '^CASE .* bad' "$runs_scratch/console") || true
	grep -aq '^GUEST ENDS' "$runs_scratch/console" || { tail -n 40 "$runs_scratch/console"; failed=$((failed + 1)); }
	echo "$passed passed, $failed failed"
	[ "$failed" = 0 ] && [ "$passed" -gt 0 ]
}
