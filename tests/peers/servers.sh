# shellcheck shell=sh
# Other people's file servers in namespaces of their own: with their users, their ports, and an end that takes all of
# them along. To be sourced in front of the script that needs them.
#
# with_servers BUILD SCRIPT [ARGUMENT...]: what is needed is installed or unpacked below BUILD, and the script runs again
# as root in there, with BUILD, inside, and the arguments. Ends with 77 where that cannot be.
with_servers() {
	. "$(dirname "$0")/../need.sh"
	servers_build=$1 servers_script=$2
	shift 2
	if [ "$(id -u)" != 0 ]; then
		sudo -n true 2>/dev/null || { echo 'servers and their users need root'; exit 77; }
		exec sudo -n sh "$servers_script" "$servers_build" "$@"
	fi
	if ! need python3 iproute2 util-linux openssl curl jq procps >/dev/null 2>&1 || ! need_servers openssh-server openssh-client >/dev/null 2>&1; then
		echo 'sshd is not there'
		exit 77
	fi
	servers=$servers_build/tests/peers/servers
	need_unpacked "$servers" vsftpd proftpd-core proftpd-mod-crypto >/dev/null 2>&1 || { echo 'the file servers are not there'; exit 77; }
	unshare -mnpf --mount-proc sh -c 'mount -t tmpfs none /mnt && ip link set lo up' 2>/dev/null || { echo 'no namespaces of their own for the servers'; exit 77; }
	for servers_folder in "$servers"/usr/lib/*-linux-gnu; do LD_LIBRARY_PATH=$servers_folder; done
	PROFTPD_MODULES=$servers/usr/lib/proftpd
	PATH=$servers/usr/sbin:$PATH:/usr/sbin:/sbin
	export LD_LIBRARY_PATH PROFTPD_MODULES PATH
	exec unshare -mnpf --kill-child --mount-proc sh "$servers_script" "$servers_build" inside "$@"
}
