#!/bin/sh
# Goal: a share behind real file servers (vsftpd and proftpd over FTP and FTPS, OpenSSH's sshd over SFTP) takes a
# pair; and when a server is not there, dies, stands still, is full, slow, refuses, or is another one than it should
# be, each order ends in its named outcome in its time, nothing half is called carried, the password is nowhere to be
# seen, and when the fault is gone the same order is carried (remote_faults.py). An order that is cut, by a kill of
# the carrier or of the server, ends with both old or both new programs after the next look (remote_cuts.py). The
# service does all of it by itself (remote_service.sh).
#
# The servers run in namespaces of their own: with their users, their ports, and an end that takes all of them along.
#
# usage: remote.sh BUILD [--long | --service] [KIND | CASE]...
#   --long     every fault with every kind of server, and cuts: about a quarter of an hour
#   --service  the service alone
set -eu
if [ "${2-}" != inside ]; then
	. "$(dirname "$0")/../need.sh"
	build=$(cd "$1" && pwd)
	shift
	if [ "$(id -u)" != 0 ]; then
		sudo -n true 2>/dev/null || { echo 'servers and their users need root'; exit 77; }
		exec sudo -n sh "$0" "$build" "$@"
	fi
	if ! need python3 iproute2 util-linux openssl curl jq procps >/dev/null 2>&1 || ! need_servers openssh-server openssh-client >/dev/null 2>&1; then
		echo 'sshd is not there'
		exit 77
	fi
	servers=$build/tests/peers/servers
	need_unpacked "$servers" vsftpd proftpd-core proftpd-mod-crypto >/dev/null 2>&1 || { echo 'the file servers are not there'; exit 77; }
	unshare -mnpf --mount-proc sh -c 'mount -t tmpfs none /mnt && ip link set lo up' 2>/dev/null || { echo 'no namespaces of their own for the servers'; exit 77; }
	for folder in "$servers"/usr/lib/*-linux-gnu; do LD_LIBRARY_PATH=$folder; done
	PROFTPD_MODULES=$servers/usr/lib/proftpd
	PATH=$servers/usr/sbin:$PATH:/usr/sbin:/sbin
	export LD_LIBRARY_PATH PROFTPD_MODULES PATH
	exec unshare -mnpf --kill-child --mount-proc sh "$0" "$build" inside "$@"
fi
build=$1
shift 2
mode=short
case ${1-} in
--long | --service)
	mode=${1#--}
	shift
	;;
esac
here=$(cd "$(dirname "$0")" && pwd)
mount --make-rprivate /
ip link set lo up
[ $mode != service ] || exec sh "$here/remote_service.sh" "$build"
. "$here/lib.sh"
chmod 755 "$scratch"
status=0
python3 -B "$here/remote_run.py" "$build/daemon/yoke-carrier" "$scratch" $mode "$@" || status=1
[ $mode = short ] || [ $# != 0 ] || python3 -B "$here/remote_run.py" "$build/daemon/yoke-carrier" "$scratch" cuts || status=1
exit $status
