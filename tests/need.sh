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

# What Yoke is built with.
need_build() {
	need gcc libc6-dev cmake ninja-build pkg-config \
		libserialport-dev libcurl4-openssl-dev libsqlite3-dev libssl-dev libuv1-dev \
		libmicrohttpd-dev libjansson-dev libinih-dev libcmocka-dev libsystemd-dev
}

# What its tests need besides.
need_test() {
	need git clang llvm libclang-rt-14-dev binutils coreutils diffutils curl sqlite3 jq socat util-linux e2fsprogs procps systemd python3
}

# The published schema of SARIF 2.1.0, out of a package that carries it, and what validates with it.
need_schema() { # FILE
	need python3 python3-jsonschema jq
	[ ! -s "$1" ] || return 0
	command -v npm >/dev/null || need npm
	mkdir -p "$(dirname "$1")"
	folder=$(mktemp -d)
	(cd "$folder" && npm pack --silent @microsoft/jest-sarif@1.0.0-beta.0 >/dev/null && tar -xzf ./*.tgz)
	cp "$folder/package/lib/schemas/sarif-2.1.0-rtm.5.json" "$1"
	rm -r "$folder"
}
