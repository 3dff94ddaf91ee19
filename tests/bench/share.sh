#!/bin/sh
# Prints the figures of shares, one a line as run.sh does: what an order to a local share takes while another machine's
# share is frozen (sshfs, its server stopped), and while none is; and a pair of 5 MB to a local share, first and over an old
# pair, beside cp and sync of the same bytes, with the processor time and memory of the carrier.
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
# In turns: the carrier alone, by hand, so that no waiting for an answer is counted; and cp and sync of the same bytes.
# What each took is added to a file: seconds, processor seconds, KiB.
stopwatch=$build/tests/bench/bench-stopwatch
pair_turn() { # first|over REVISION
	if [ "$1" = first ]; then
		rm -f "$scratch"/BIG/CH?/* "$scratch"/beside/*
	fi
	"$stopwatch" "$build/daemon/yoke-carrier" send "$home/machines/BIG.conf" --name upper=O5000.NC --name lower=O5000.NC \
		upper="$programs/J5000-$2.upper.nc" lower="$programs/J5000-$2.lower.nc" \
		>>"$scratch/ours.$1" 2>"$scratch/carrier.said" || fail "$(cat "$scratch/carrier.said")"
	cmp "$programs/J5000-$2.upper.nc" "$scratch/BIG/CH1/O5000.NC" || fail 'another program lies there'
	# shellcheck disable=SC2016
	"$stopwatch" sh -c 'cp "$1" "$3/upper" && cp "$2" "$3/lower" && sync "$3/upper" "$3/lower"' sh \
		"$programs/J5000-$2.upper.nc" "$programs/J5000-$2.lower.nc" "$scratch/beside" >>"$scratch/theirs.$1"
}
column() { awk -v c="$2" '{ print $c * (c < 3 ? 1000 : 1) }' "$1" | median; }
size=$(cat "$programs"/J5000-C.*.nc | wc -c)
for which in first over; do
	for n in 1 2 3 4 5 6 7 8 9 10 11; do
		[ $((n % 2)) = 0 ] && revision=C || revision=D
		pair_turn $which $revision
	done
	ours=$scratch/ours.$which theirs=$scratch/theirs.$which
	figure "share-5MB-$which" "$(column "$ours" 1)" ms "$(column "$theirs" 1)" \
		"cp and sync of the same $size bytes, $which, median of 11; aim 1.5"
	figure "share-5MB-$which-processor" "$(column "$ours" 2)" ms "$(column "$theirs" 2)" 'the same, user+sys'
	figure "share-5MB-$which-memory" "$(column "$ours" 3)" KiB $((size / 1024)) 'size of the pair'
done
stop
