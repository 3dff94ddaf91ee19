#!/bin/sh
# All tests: build with gcc and with clang, run everything plain and under AddressSanitizer and
# UndefinedBehaviorSanitizer. Closes with a line "N passed, N failed"; status 0 when nothing failed.
set -eu
cd "$(dirname "$0")/.."
. tests/need.sh
need_build
need_test

jobs=$(nproc)
passed=0
failed=0

build() { # name, compiler, more settings
	name=$1 compiler=$2
	shift 2
	echo "== build-$name"
	cmake -S . -B "build-$name" -G Ninja -DCMAKE_C_COMPILER="$compiler" "$@" >"build-$name.log" 2>&1 ||
		{ cat "build-$name.log"; exit 1; }
	cmake --build "build-$name" -j "$jobs" >>"build-$name.log" 2>&1 || { tail -n 60 "build-$name.log"; exit 1; }
	rm -f "build-$name.log"
}

run() { # name
	echo "== tests of build-$1"
	ctest --test-dir "build-$1" --output-on-failure -j "$jobs" 2>&1 | tee "build-$1/tests.log" || true
	sum=$(sed -n 's/.* tests passed, \([0-9]*\) tests failed out of \([0-9]*\)$/\1 \2/p' "build-$1/tests.log")
	[ -n "$sum" ] || { echo "build-$1: the tests did not come to an end"; sum='1 1'; }
	failed=$((failed + ${sum% *}))
	passed=$((passed + ${sum#* } - ${sum% *}))
}

build gcc gcc
run gcc
build clang clang
build sanitize clang -DYOKE_SANITIZE=ON -DCMAKE_BUILD_TYPE=Debug
export ASAN_OPTIONS=detect_leaks=1:abort_on_error=0 UBSAN_OPTIONS=print_stacktrace=1
run sanitize

echo "== fuzz, 20 s each"
counts=build-sanitize/fuzz.log
sh tests/fuzz/long.sh 20 >"$counts" 2>&1 || true
cat "$counts"
fuzzed=$(grep -c '^fuzz_[a-z]*: [1-9][0-9]* inputs' "$counts") || true
broken=$(grep -c '^SUMMARY: ' "$counts") || true
targets=$(sh tests/fuzz/long.sh --count)
broken=$((broken + targets - fuzzed))
passed=$((passed + targets - broken))
failed=$((failed + broken))

echo "== serial ports of a guest"
sh tests/peers/uart.sh --short build-gcc 2>&1 | tee build-gcc/uart.log || true
sum=$(sed -n 's/^\([0-9]*\) passed, \([0-9]*\) failed$/\1 \2/p' build-gcc/uart.log)
[ -n "$sum" ] || { echo 'the guest did not come to an end'; sum='0 1'; }
passed=$((passed + ${sum% *}))
failed=$((failed + ${sum#* }))

echo "== a stick in a guest"
sh tests/peers/stick.sh build-gcc 2>&1 | tee build-gcc/stick.log || true
sum=$(sed -n 's/^\([0-9]*\) passed, \([0-9]*\) failed$/\1 \2/p' build-gcc/stick.log)
[ -n "$sum" ] || { echo 'the guest did not come to an end'; sum='0 1'; }
passed=$((passed + ${sum% *}))
failed=$((failed + ${sum#* }))

echo "== power cuts in a guest"
if sh tests/fault/power.sh build-gcc 2; then passed=$((passed + 1)); else failed=$((failed + 1)); fi

echo "== coverage of daemon/core"
sh tests/coverage.sh

echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ] && [ "$passed" -gt 0 ]
