#!/bin/sh
# Prints the figures of shares, one a line as run.sh does: what an order to a local share takes while another machine's
# share is frozen (sshfs, its server stopped), and while none is; and a pair of 5 MB to a local share, first and over an old
# pair, beside cp and sync of the same bytes.
#
#     sh tests/bench/share.sh [BUILD] [ORDERS]      BUILD: a build folder, default build; ORDERS: default 15
. "$(dirname "$0")/../need.sh"
need jq curl procps coreutils
build=${1:-build} orders=${2:-15}
set -- "$build"
. "$(dirname "$0")/../fault/shop.sh"
. "$(dirname "$0")/../peers/sshfs.sh"
. "$(dirname "$0")/figure.sh"
settings settle_ms 100

median() { sort -n | awk '{ v[NR] = $1 } END { print v[int((NR + 1) / 2)] }'; }
now() { date +%s%N; }

# From the order to its end, by the service's own clock, in ms: its events "queued" and "read-back".
took() { # ORDER
	events "machine=LOCAL" | jq -r --argjson n "$1" 'select(.seq == $n or .kind == "read-back") | .kind + " " + .time' |
		awk -v n="$1" '$1 == "queued" { from = $2 } { to = $2 } END { print from, to }' | while read -r from to; do
		echo $((($(date -d "$to" +%s%N) - $(date -d "$from" +%s%N)) / 10000)) | sed 's/\(..\)$/.\1/'
	done
}

some() { # as many orders to the local share
	for n in $(seq "$orders"); do
		[ $((n % 2)) = 0 ] && revision=C || revision=D
		carried J4417 $revision LOCAL
		took "$order"
	done | median
}

share LOCAL
share BIG
mkdir "$scratch/beside"
if (need_sshfs) >/dev/null 2>&1; then
	need_sshfs
	share_up FROZEN
	share FROZEN 'retry_s = 600'
fi
start
drop_pair J4417 C 4417
drop_pair J4417 D 4417
becomes released J4417 C
becomes released J4417 D
carried J4417 C LOCAL
if [ -f "$scratch/FROZEN.listener" ]; then
	alone=$(some)
	freeze FROZEN
	send J4417 C FROZEN
	figure share-beside-frozen "$(some)" ms "$alone" "the same while no share is frozen, median of $orders orders"
	thaw FROZEN
	quiet FROZEN
fi

# 5 MB in two programs.
for revision in C D; do
	drop_long J5000 $revision 5000 106000
	becomes released J5000 $revision
done
copied() {
	for _ in 1 2 3 4 5 6 7; do
		from=$(now)
		cp "$programs/J5000-C.upper.nc" "$programs/J5000-C.lower.nc" "$scratch/beside/"
		sync "$scratch"/beside/*
		echo $((($(now) - from) / 1000000))
		[ "$1" = over ] || rm "$scratch"/beside/*
	done | median
}
# The carrier alone, by hand, so that no waiting for an answer is counted.
sent() { # first|over
	for n in 1 2 3 4 5 6 7; do
		[ "$1" = over ] || rm -f "$scratch"/BIG/CH?/*
		[ $((n % 2)) = 0 ] && revision=C || revision=D
		from=$(now)
		"$build/daemon/yoke-carrier" send "$home/machines/BIG.conf" upper="$programs/J5000-$revision.upper.nc" \
			lower="$programs/J5000-$revision.lower.nc" >"$scratch/carrier.said" 2>&1 || fail "$(cat "$scratch/carrier.said")"
		echo $((($(now) - from) / 1000000))
	done | median
}
size=$(cat "$programs"/J5000-C.*.nc | wc -c)
for which in first over; do
	figure "share-5MB-$which" "$(sent $which)" ms "$(copied $which)" "cp and sync of the same $size bytes, $which, median of 7"
done
stop
