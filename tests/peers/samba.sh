#!/bin/sh
# Goal: the service and its carrier on a share of Samba through the kernel's own client (cifs), in a guest of QEMU with
# Debian's kernel: SMB 3.1.1, and the old dialect as long as the server has it. What was measured is printed. Closes with
# "N passed, N failed".
# usage: samba.sh [BUILD], build-gcc without; the kernel is fetched once into BUILD/guest
set -eu
cd "$(dirname "$0")/../.."
. tests/need.sh
. tests/peers/kernel.sh
build=$(realpath "${1:-build-gcc}")
need_guest
need_servers samba samba-common-bin
work=$build/guest
mkdir -p "$work"
guest_kernel "$work"

scratch=$(mktemp -d)
host=
end() {
	[ -z "$host" ] || { kill -CONT "$host"; kill "$host"; } 2>/dev/null || true
	wait 2>/dev/null || true
	rm -rf "$scratch"
}
trap end EXIT
trap 'exit 130' INT TERM
root=$scratch/root
guest_shop "$work" "$root" "$build"
guest_drivers "$work" "$root" e1000 ghash-generic seqiv md5 hmac cmac ecb ccm gcm ctr aes_generic sha256_generic sha512_generic md4 cifs
mkdir "$root/tests/peers"
cp tests/peers/samba_guest.sh "$root/tests/peers/"
install -m 755 tests/peers/samba_init.sh "$root/init"
python3 -c 'import socket
s = [socket.socket() for _ in (1, 2)]
for i in s: i.bind(("127.0.0.1", 0))
print(*(i.getsockname()[1] for i in s))' >"$root/etc/ports"
read -r ask_port smb_port <"$root/etc/ports"
python3 tests/peers/samba_host.py "$scratch/host" "$ask_port" "$smb_port" >"$scratch/host.said" 2>&1 &
host=$!
tries=200
until grep -q ready "$scratch/host.said"; do
	tries=$((tries - 1))
	[ $tries -gt 0 ] || { cat "$scratch/host.said"; exit 1; }
	sleep 0.05
done
guest_runs "$scratch" "$work" 900 -accel tcg -nic user,model=e1000
