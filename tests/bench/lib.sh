# shellcheck shell=sh
# Helpers of the figures, to be sourced in the top folder.
. tests/need.sh
. tests/bench/figure.sh

# begin BUILD TARGET...: builds what is measured, in a build folder that is made when missing, and makes the scratch folder.
begin() {
	need_build
	need coreutils curl findutils procps sed util-linux
	build=$1
	shift
	[ -f "$build/CMakeCache.txt" ] || cmake -S . -B "$build" -G Ninja >/dev/null
	cmake --build "$build" --target "$@" >"$build/bench.log" 2>&1 || {
		tail -n 40 "$build/bench.log"
		exit 1
	}
	rm -f "$build/bench.log"
	if grep -q 'YOKE_SANITIZE:BOOL=ON\|CMAKE_BUILD_TYPE:STRING=Debug' "$build/CMakeCache.txt"; then
		echo "bench: $build has sanitizers or no optimisation: its figures mean nothing" >&2
		exit 2
	fi
	build=$(cd "$build" && pwd)
	PATH=$build/daemon:$build/cli:$build/tests/control:$build/tests/bench:$PATH
	LC_ALL=C
	export PATH LC_ALL
	scratch=$(mktemp -d)
	started=
	trap clean EXIT
	trap 'exit 130' INT TERM
}

clean() {
	# shellcheck disable=SC2086
	[ -z "$started" ] || kill $started 2>/dev/null || true
	wait 2>/dev/null || true
	rm -rf "$scratch"
}

fail() {
	echo "bench: $*" >&2
	exit 1
}

# within SECONDS COMMAND...
within() {
	end=$(($(date +%s) + $1))
	shift
	until "$@" >/dev/null 2>&1; do
		[ "$(date +%s)" -lt "$end" ] || fail "this did not come true: $*"
		sleep 0.05
	done
}

# What the figures were measured on.
heading() {
	printf '# %s processors, %s, %s on %s; load before: %s (figures of a busy machine tell little)\n' "$(nproc)" \
		"$(sed -n 's/^model name[^:]*: //p' /proc/cpuinfo | head -n 1)" "$(uname -sr)" "$(stat -f -c %T "$scratch")" \
		"$(load)"
}

# The load of the last minute.
load() {
	cut -d ' ' -f 1 /proc/loadavg
}

# median FILE COLUMN
median() {
	awk -v c="$2" '{ print $c }' "$1" | sort -n | awk '{ v[NR] = $1 } END { print v[int((NR + 1) / 2)] }'
}

# home NAME: a new home whose program numbers are enough for many jobs.
home() {
	mkdir -p "$scratch/$1/programs"
	printf '[yoke]\n[limits]\nnumber_max = 99999999\n' >"$scratch/$1/yoke.conf"
}

# serve HOME: starts yoked, without waiting for it.
serve() {
	yoked --home "$scratch/$1" >"$scratch/$1.log" 2>&1 &
	service=$!
	started="$started $service"
	socket=$scratch/$1/yoke.sock
}

# ask PATH [CURL ARGUMENT...]
ask() {
	path=$1
	shift
	curl -sf --max-time 60 --unix-socket "$socket" "$@" "http://yoke$path"
}

status() {
	ask /v1/status
}

unserve() {
	kill "$service"
	wait "$service" || fail "yoked did not end in good order: $(tail -n 3 "$scratch"/*.log)"
}

resident() { # PID: KiB
	awk '/^VmRSS:/ { print $2 }' "/proc/$1/status"
}
