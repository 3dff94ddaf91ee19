#!/bin/sh
# How much of daemon/core the tests of core, of the command without a service, of the corpora and of the oracle run:
# a line for each folder, and for all. With a folder (wait) or file (wait/walk.c) a line for each of its files.
# The test of bounds measures time and is left out.
# usage: coverage.sh [PART]
set -eu
cd "$(dirname "$0")/.."
. tests/need.sh
need_build
need_test
build=build-coverage part=${1:-}

cmake -S . -B "$build" -G Ninja -DCMAKE_C_COMPILER=gcc -DCMAKE_BUILD_TYPE=Debug -DYOKE_COVERAGE=ON \
	-DCMAKE_C_FLAGS='--coverage' >"$build.log" 2>&1 || { cat "$build.log"; exit 1; }
cmake --build "$build" -j "$(nproc)" >>"$build.log" 2>&1 || { tail -n 60 "$build.log"; exit 1; }
find "$build" -name '*.gcda' -delete
ctest --test-dir "$build" -j "$(nproc)" \
	-E core_wait_bounds -R '^(core_|cli|oracle|common_report|fuzz_(reader|expr|pair|proof|names|change)$)' >>"$build.log" 2>&1 ||
	{ tail -n 30 "$build.log"; echo 'coverage: some tests failed, the figures are lower than they should be'; }
rm -f "$build.log"

# gcov -b tells, for each source, shares of lines and of branches taken at least once.
for data in $(find "$build/daemon/core" -name '*.gcda'); do
	gcov -n -b "$data" 2>/dev/null
done | awk -v part="$part" '
	function share(s) { sub(/.*:/, "", s); sub(/%.*/, "", s); return s / 100 }
	/^File / {
		file = $2
		gsub("\047", "", file)
		at = index(file, "daemon/core/")
		file = at && file ~ /\.c$/ ? substr(file, at + 12) : ""
	}
	/^Lines executed:/ && file != "" { n = $NF; lines[file] = n; hit[file] = int(share($2) * n + 0.5) }
	/^Taken at least once:/ && file != "" { n = $NF; branches[file] = n; taken[file] = int(share($4) * n + 0.5) }
	function show(name, h, l, t, b) {
		printf "%-28s %6d of %6d lines %6.1f %%  %6d of %6d branches %6.1f %%\n",
			name, h, l, l ? 100 * h / l : 100, t, b, b ? 100 * t / b : 100
	}
	END {
		for (f in lines) {
			folder = f
			sub(/\/.*/, "", folder)
			fl[folder] += lines[f]; fh[folder] += hit[f]
			fb[folder] += branches[f]; ft[folder] += taken[f]
			al += lines[f]; ah += hit[f]; ab += branches[f]; at_ += taken[f]
			if (part != "" && index(f, part) == 1)
				show(f, hit[f], lines[f], taken[f], branches[f])
		}
		split("base nc wait change pair", order)
		for (i = 1; i <= 5; i++)
			show("daemon/core/" order[i], fh[order[i]], fl[order[i]], ft[order[i]], fb[order[i]])
		show("daemon/core", ah, al, at_, ab)
	}'
