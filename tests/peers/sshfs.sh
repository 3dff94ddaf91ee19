# A share behind a server of its own on loopback: OpenSSH's sshd, mounted by sshfs. To be sourced after
# fault/shop.sh; what was started and mounted ends with the test. The server can be frozen as a whole, or at a
# chosen request (sftp_gate.py).
#
# share_up NAME: folders CH1 and CH2 with the marker HERE in $scratch/NAME.server, served, mounted at $scratch/NAME.
here=$(cd "$(dirname "$0")/../peers" && pwd)
servers=

need_sshfs() {
	. "$here/../need.sh"
	need_servers openssh-server openssh-client sshfs fuse3 >/dev/null 2>&1 && need python3 procps >/dev/null 2>&1 || skip 'sshd and sshfs are not there'
	[ -r /dev/fuse ] && [ -w /dev/fuse ] || skip '/dev/fuse cannot be used here'
	gate_server=$(command -v /usr/lib/openssh/sftp-server /usr/lib/sftp-server | head -n 1)
	[ -n "$gate_server" ] || skip 'no sftp-server'
	[ -d /run/sshd ] || mkdir -p /run/sshd 2>/dev/null || skip 'sshd wants /run/sshd'
	[ -f "$scratch/key" ] || ssh-keygen -q -t ed25519 -N "" -f "$scratch/key"
	cp "$scratch/key.pub" "$scratch/allowed"
}

# Before the end() of the tests' helpers: a frozen mount would keep everything waiting.
leave() {
	leave_status=$?
	for leave_name in $servers; do server_ends "$leave_name"; done
	set_status $leave_status || end
	end
}
set_status() { return "$1"; }
trap leave EXIT

free_port() {
	python3 -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])'
}

# tree PID: it and all that it started, and so on.
tree() {
	echo "$1"
	for tree_child in $(pgrep -P "$1"); do tree "$tree_child"; done
}

server_pid() {
	cat "$scratch/$1.listener"
}

# server_up NAME: the server alone.
server_up() {
	[ -f "$scratch/$1.port" ] || free_port >"$scratch/$1.port"
	[ -f "$scratch/$1.host" ] || ssh-keygen -q -t ed25519 -N '' -f "$scratch/$1.host"
	cat >"$scratch/$1.sshd" <<-END
		ListenAddress 127.0.0.1
		Port $(cat "$scratch/$1.port")
		HostKey $scratch/$1.host
		AuthorizedKeysFile $scratch/allowed
		PidFile none
		UsePAM no
		StrictModes no
		PasswordAuthentication no
		PermitRootLogin yes
		Subsystem sftp /usr/bin/env python3 $here/sftp_gate.py $gate_server $scratch/$1.listener $scratch/$1.freeze
	END
	/usr/sbin/sshd -D -e -f "$scratch/$1.sshd" >>"$scratch/$1.sshd.log" 2>&1 &
	echo $! >"$scratch/$1.listener"
	case " $servers " in *" $1 "*) ;; *) servers="$servers $1" ;; esac
}

listens() {
	grep -q "^Server listening on 127.0.0.1 port $(cat "$scratch/$1.port")" "$scratch/$1.sshd.log"
}

# mount_up NAME [OPTION...]: mounts what the server has.
mount_up() {
	mount_name=$1
	shift
	: >"$scratch/$mount_name.sshfs.log"
	within "$patience" listens "$mount_name" || fail "sshd does not start: $(cat "$scratch/$mount_name.sshd.log")"
	mkdir -p "$scratch/$mount_name"
	sshfs -f "127.0.0.1:$scratch/$mount_name.server" "$scratch/$mount_name" -p "$(cat "$scratch/$mount_name.port")" \
		-o "IdentityFile=$scratch/key,StrictHostKeyChecking=no,UserKnownHostsFile=/dev/null,IdentitiesOnly=yes" \
		"$@" >"$scratch/$mount_name.sshfs.log" 2>&1 &
	echo $! >"$scratch/$mount_name.sshfs"
	within "$patience" is_mounted "$mount_name" || fail "sshfs does not mount: $(cat "$scratch/$mount_name.sshfs.log")"
}

is_mounted() {
	grep -q "^[^ ]* $scratch/$1 fuse.sshfs " /proc/mounts
}

is_unmounted() {
	! is_mounted "$1"
}

share_up() {
	mkdir -p "$scratch/$1.server/CH1" "$scratch/$1.server/CH2"
	: >"$scratch/$1.server/HERE"
	server_up "$1"
	mount_up "$1"
}

# freeze NAME: the server and all its sessions, as when its machine stands still.
freeze() {
	# shellcheck disable=SC2046
	kill -STOP $(tree "$(server_pid "$1")") 2>/dev/null || true
}

# freeze_at NAME write|rename N before|after
freeze_at() {
	rm -f "$scratch/$1.freeze.done"
	echo "$2 $3 $4" >"$scratch/$1.freeze"
}

frozen() {
	[ -e "$scratch/$1.freeze.done" ]
}

thaw() {
	# shellcheck disable=SC2046
	kill -CONT $(tree "$(server_pid "$1")") 2>/dev/null || true
}

# kill_server NAME: at once, with all its sessions.
kill_server() {
	# shellcheck disable=SC2046
	kill -KILL $(tree "$(server_pid "$1")") 2>/dev/null || true
	wait "$(server_pid "$1")" 2>/dev/null || true
}

server_ends() {
	kill_server "$1" 2>/dev/null || true
	kill -KILL "$(cat "$scratch/$1.sshfs" 2>/dev/null)" 2>/dev/null || true
	umount -l "$scratch/$1" 2>/dev/null || fusermount3 -uz "$scratch/$1" 2>/dev/null || true
}
