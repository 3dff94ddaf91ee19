# A share's server on this computer and a guest of QEMU whose kernel is its client; to be sourced after need.sh and
# kernel.sh, from the top of the tree, with BUILD in $build.

# share_host KIND SHARES MODULE...: runs the server of this kind (share_host.py), and the guest with these drivers beside it;
# SHARES: a line for each case, KIND and how it is mounted. Closes with "N passed, N failed".
share_host() {
	host_kind=$1 host_shares=$2
	shift 2
	work=$build/guest
	mkdir -p "$work"
	guest_kernel "$work"
	scratch=$(mktemp -d)
	host=
	trap share_host_end EXIT
	trap 'exit 130' INT TERM
	root=$scratch/root
	guest_shop "$work" "$root" "$build"
	guest_drivers "$work" "$root" e1000 "$@"
	mkdir "$root/tests/peers"
	cp tests/peers/share_guest.sh "$root/tests/peers/"
	install -m 755 tests/peers/share_init.sh "$root/init"
	echo "$host_shares" >"$root/etc/shares"
	python3 -c 'import socket
s = [socket.socket() for _ in (1, 2)]
for i in s: i.bind(("127.0.0.1", 0))
print(*(i.getsockname()[1] for i in s))' >"$root/etc/ports"
	read -r ask_port share_port <"$root/etc/ports"
	python3 tests/peers/share_host.py "$host_kind" "$scratch/host" "$ask_port" "$share_port" >"$scratch/host.said" 2>&1 &
	host=$!
	tries=400
	until grep -q ready "$scratch/host.said"; do
		tries=$((tries - 1))
		[ $tries -gt 0 ] || { cat "$scratch/host.said"; exit 1; }
		sleep 0.05
	done
	guest_runs "$scratch" "$work" 900 -accel tcg -nic user,model=e1000
}

share_host_end() {
	[ -z "$host" ] || { kill -CONT "$host"; kill "$host"; } 2>/dev/null || true
	wait 2>/dev/null || true
	rm -rf "$scratch"
}
