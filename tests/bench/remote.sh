#!/bin/sh
# Prints the figures of shares on servers, one a line as run.sh does: pairs of 5 MB and 100 small pairs over FTP (vsftpd),
# FTPS (proftpd) and SFTP (OpenSSH), beside curl that uploads the same bytes; also called by run.sh. As root.
#
#     sh tests/bench/remote.sh [BUILD] [TURNS] [ftp|ftps|sftp]...      BUILD: a build folder, default build; TURNS: default 7
set -eu
if [ "${2-}" != inside ]; then
	. "$(dirname "$0")/../peers/servers.sh"
	build=$(cd "${1:-build}" && pwd)
	[ $# = 0 ] || shift
	with_servers "$build" "$0" "$@"
fi
build=$1
shift 2
here=$(cd "$(dirname "$0")" && pwd)
mount --make-rprivate /
ip link set lo up
. "$here/../peers/lib.sh"
chmod 755 "$scratch"
python3 -B "$here/remote.py" "$build" "$scratch" "$@"
