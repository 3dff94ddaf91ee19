#!/bin/sh
# Fuzz the reader, the evaluator of expressions, the proof, patterns and settings, the comparison of programs, each machine
# of the wire, streams of several programs, and proofs of the trail, with libFuzzer under AddressSanitizer and UndefinedBehaviorSanitizer, as many
# at a time as there are processors. Prints how many inputs each took; an input that fails is left in build-fuzz, named
# after its target. Status 0 when none did.
# usage: long.sh [SECONDS], 3600 for each target without; long.sh --count tells how many there are
set -eu
cd "$(dirname "$0")/../.."
. tests/need.sh
targets='reader expr proof names change send receive canonical eia telnet comport several seal'
[ "${1-}" != --count ] || { echo "$targets" | wc -w; exit 0; }
need_build
need clang llvm libclang-rt-14-dev
seconds=${1:-3600} build=build-fuzz

cmake -S . -B "$build" -G Ninja -DYOKE_FUZZ=ON -DCMAKE_C_COMPILER=clang -DCMAKE_BUILD_TYPE=Debug >"$build.log" 2>&1 ||
	{ cat "$build.log"; exit 1; }
# shellcheck disable=SC2046
cmake --build "$build" -j "$(nproc)" --target $(printf 'fuzz_%s ' $targets) >>"$build.log" 2>&1 ||
	{ tail -n 60 "$build.log"; exit 1; }
rm -f "$build.log"

# One target; its status tells whether every input was taken.
cat >"$build/one.sh" <<-'END'
	seconds=$1 build=$2 name=$3
	mkdir -p "$build/new/$name"
	"$build/tests/fuzz/fuzz_$name" -max_total_time="$seconds" -timeout=60 -rss_limit_mb=2048 -max_len=4096 \
		-dict=tests/fuzz/program.dict -artifact_prefix="$build/$name-" -print_final_stats=1 \
		"$build/new/$name" "tests/fuzz/corpus/$name" >"$build/$name.log" 2>&1
	status=$?
	inputs=$(sed -n 's/^stat::number_of_executed_units: //p' "$build/$name.log")
	slowest=$(sed -n 's/^stat::slowest_unit_time_sec: *//p' "$build/$name.log")
	echo "fuzz_$name: ${inputs:-0} inputs in $seconds s, the slowest ${slowest:-?} s"
	[ "$status" -eq 0 ] || { tail -n 40 "$build/$name.log"; exit 1; }
END
failed=0
# shellcheck disable=SC2086
printf '%s\n' $targets | xargs -P "$(nproc)" -n 1 sh "$build/one.sh" "$seconds" "$build" || failed=1
exit "$failed"
