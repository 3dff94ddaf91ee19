#!/bin/sh
# Goal: the service and its carrier on a share of Samba through the kernel's own client (cifs), in a guest of QEMU with
# Debian's kernel: SMB 3.1.1, and the old dialect as long as the server has it. What was measured is printed. Closes with
# "N passed, N failed".
# usage: samba.sh [BUILD], build-gcc without; the kernel is fetched once into BUILD/guest
set -eu
cd "$(dirname "$0")/../.."
. tests/need.sh
. tests/peers/kernel.sh
. tests/peers/share_host.sh
build=$(realpath "${1:-build-gcc}")
need_guest
need_servers samba samba-common-bin
share_host smb 'smb 3.1.1
smb 1.0' ghash-generic seqiv md5 hmac cmac ecb ccm gcm ctr aes_generic sha256_generic sha512_generic md4 cifs
