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
# usage: remote.sh BUILD [--long | --cuts | --service] [KIND | CASE]...
#   --long     every fault with every kind of server, and cuts: some ten minutes
#   --cuts     cuts alone
#   --service  the service alone
set -eu
if [ "${2-}" != inside ]; then
	. "$(dirname "$0")/servers.sh"
	build=$(cd "$1" && pwd)
	shift
	with_servers "$build" "$0" "$@"
fi
build=$1
shift 2
mode=short
case ${1-} in
--long | --cuts | --service)
	mode=${1#--}
	shift
	;;
esac
here=$(cd "$(dirname "$0")" && pwd)
mount --make-rprivate /
ip link set lo up
# A sanitized carrier: whose leak it is stands at the far end of the stack.
export ASAN_OPTIONS="${ASAN_OPTIONS-}${ASAN_OPTIONS:+:}fast_unwind_on_malloc=0" \
	LSAN_OPTIONS="suppressions=$here/remote.supp:print_suppressions=0"
[ "$mode" != service ] || exec sh "$here/remote_service.sh" "$build"
. "$here/lib.sh"
chmod 755 "$scratch"
status=0
python3 -B "$here/remote_run.py" "$build/daemon/yoke-carrier" "$scratch" "$mode" "$@" || status=1
[ "$mode" != long ] || [ $# != 0 ] || python3 -B "$here/remote_run.py" "$build/daemon/yoke-carrier" "$scratch/cuts" cuts || status=1
exit $status
