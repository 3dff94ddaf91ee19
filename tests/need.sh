# need PACKAGE...: install what is missing, as root or through sudo. To be sourced.
need() {
	missing=
	for package in "$@"; do
		status=$(dpkg-query -W -f '${Status}' "$package" 2>/dev/null) || status=
		[ "$status" = 'install ok installed' ] || missing="$missing $package"
	done
	[ -n "$missing" ] || return 0
	echo "installing:$missing"
	as_root=
	[ "$(id -u)" = 0 ] || as_root=sudo
	$as_root apt-get update -qq
	# shellcheck disable=SC2086
	$as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $missing >/dev/null
}

# need_servers PACKAGE...: the same for packages with a server in them, of which none is to run here by itself.
need_servers() {
	policy=/usr/sbin/policy-rc.d
	if [ -e $policy ] || [ "$(id -u)" != 0 ]; then
		policy=
	else
		printf '#!/bin/sh\nexit 101\n' >$policy
		chmod 755 $policy
	fi
	needed=0
	need "$@" || needed=$?
	[ -z "$policy" ] || rm -f $policy
	return $needed
}

# need_unpacked FOLDER PACKAGE...: unpack packages below FOLDER, with those that they need and that are not here, and
# install nothing: servers that cannot be installed beside each other, and that are not to run by themselves.
need_unpacked() {
	folder=$1
	shift
	[ ! -e "$folder/done" ] || return 0
	mkdir -p "$folder/packages"
	for package in "$@"; do
		if ! apt-get -s install --no-install-recommends "$package" >/dev/null 2>&1; then
			as_root=
			[ "$(id -u)" = 0 ] || as_root=sudo
			$as_root apt-get update -qq
		fi
		apt-get -s install --no-install-recommends "$package" | awk '/^Inst/ { print $2 }'
	done | sort -u >"$folder/list"
	[ -s "$folder/list" ] || return 1
	# shellcheck disable=SC2046
	(cd "$folder/packages" && apt-get download -qq $(cat ../list)) || return 1
	for package in "$folder"/packages/*.deb; do dpkg -x "$package" "$folder" || return 1; done
	: >"$folder/done"
}

# What Yoke is built with.
need_build() {
	need gcc libc6-dev cmake ninja-build pkg-config \
		libserialport-dev libcurl4-openssl-dev libsqlite3-dev libssl-dev libuv1-dev \
		libmicrohttpd-dev libjansson-dev libinih-dev libexpat1-dev libcmocka-dev libsystemd-dev
}

# What its tests need besides.
need_test() {
	need git clang llvm libclang-rt-14-dev binutils coreutils diffutils curl sqlite3 jq socat ser2net util-linux e2fsprogs procps systemd python3 spin tcc tidy
	need golang-go golang-golang-x-mod-dev || echo 'Go is not there: its reading of the sealed trail is skipped'
	need_servers openssh-server openssh-client sshfs fuse3 || echo 'sshd or sshfs is not there: their tests are skipped'
}
