#!/bin/sh
# Goal: the service and its carrier on a share of NFS 4.2 (NFS-Ganesha) through the kernel's own client, in a guest of QEMU with
# Debian's kernel: mounted hard, which waits for its server for ever, and soft, which gives up. What was measured is printed.
# Closes with "N passed, N failed".
# usage: nfs.sh [BUILD], build-gcc without; the kernel is fetched once into BUILD/guest
set -eu
cd "$(dirname "$0")/../.."
. tests/need.sh
. tests/peers/kernel.sh
. tests/peers/share_host.sh
build=$(realpath "${1:-build-gcc}")
need_guest
need_servers nfs-ganesha nfs-ganesha-vfs
share_host nfs 'nfs hard
nfs soft' nfsv4
