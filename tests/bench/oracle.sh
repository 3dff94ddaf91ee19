#!/bin/sh
# The proof against the model checker spin: invented jobs in batches. Prints for each batch what the check says where spin
# says what, and every disagreement; status 1 when there is any.
# usage: oracle.sh [JOBS [BATCH]], 20000 jobs in batches of 400 without
set -eu
cd "$(dirname "$0")/../.."
. tests/need.sh
need_build
need spin
jobs=${1:-20000} batch=${2:-400} build=build-oracle
cmake -S . -B "$build" -G Ninja -DYOKE_TESTS=OFF >/dev/null
cmake --build "$build" --target yoke_core >/dev/null
cc -std=gnu11 -O2 -D_GNU_SOURCE -Iinclude -o "$build/oracle" tests/oracle/*.c "$build/daemon/core/libyoke_core.a" -lm
done=0 seed=1 status=0
while [ "$done" -lt "$jobs" ]; do
	mkdir -p "$build/found"
	"$build/oracle" expect "$seed" "$batch" "$build/found"
	"$build/oracle" compare "$seed" "$batch" "$build/found" || status=1
	done=$((done + batch)) seed=$((seed + batch))
done
echo "$done jobs compared"
exit "$status"
