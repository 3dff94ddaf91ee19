#!/bin/sh
# The proof against the model checker spin, for as many jobs as wanted. Prints for each batch, and for all, what the check
# says where spin says what, and disagreements; status 1 when there is any.
# usage: oracle.sh [JOBS [BATCH]], 20000 jobs in batches of 1000 without
set -eu
cd "$(dirname "$0")/../.."
. tests/need.sh
need_build
need spin tcc
jobs=${1:-20000} batch=${2:-1000} build=build-oracle
cmake -S . -B "$build" -G Ninja >/dev/null
cmake --build "$build" --target oracle >/dev/null
mkdir -p "$build/found"
: >"$build/oracle.log"
done=0 seed=1 status=0
while [ "$done" -lt "$jobs" ]; do
	"$build/tests/oracle/oracle" expect "$seed" "$batch" "$build/found" || status=1
	"$build/tests/oracle/oracle" compare "$seed" "$batch" "$build/found" >"$build/batch.log" || status=1
	cat "$build/batch.log"
	cat "$build/batch.log" >>"$build/oracle.log"
	done=$((done + batch)) seed=$((seed + batch))
done
awk '/ by spin; / {
		name = $0
		sub(/ +by spin.*/, "", name)
		match($0, /check: /)
		split(substr($0, RSTART + 7), n, /[ a-z,]+/)
		for (i = 1; i <= 3; i++)
			sum[name, i] += n[i]
	}
	/ disagreements in / { wrong += $1; all += $4; large += $8; unclear += $13 }
	END {
		split("agree,disagree,cannot tell", names, ",")
		for (k = 1; k <= 3; k++)
			printf "all: %-11s by spin; by the check: %d agree, %d disagree, %d cannot tell\n",
				names[k], sum[names[k], 1], sum[names[k], 2], sum[names[k], 3]
		printf "all: %d disagreements in %d jobs; left out: %d too large for spin, %d whose runs without end are not agreed\n",
			wrong, all, large, unclear
	}' "$build/oracle.log"
exit "$status"
