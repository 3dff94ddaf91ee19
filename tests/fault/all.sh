#!/bin/sh
# Goal: whatever happens to the vault, in full: what the test run plays in part. Prints counts; closes with "N passed, N
# failed".
# usage: all.sh [BUILD], build-gcc without. YOKE_SEED: the random moments of another run. About two hours on two cores.
set -eu
cd "$(dirname "$0")/../.."
build=$(realpath "${1:-build-gcc}")
passed=0 failed=0
run() { # NAME COMMAND...
	name=$1
	shift
	echo "--- $name"
	status=0
	"$@" || status=$?
	case $status in
	0) passed=$((passed + 1)) ;;
	77) echo "skipped: $name" ;;
	*)
		failed=$((failed + 1))
		echo "FAILED: $name, status $status"
		;;
	esac
}
run 'calls of SQLite that fail, each in turn' "$build/tests/vault/test_vault_fault"
run 'kills of a writer' "$build/tests/vault/test_vault_crash"
run 'bits flipped in the vault and its log' env YOKE_FLIPS=3000 "$build/tests/vault/test_vault_repair"
run 'a log that is cut or gone, a vault that was put back' "$build/tests/vault/test_vault_rescue"
for name in backup clock room vault_full; do
	run "$name" sh tests/fault/$name.sh "$build"
done
for name in kill full_disk read_only; do
	run "$name" sh tests/scenario/$name.sh "$build"
done
run 'kills of a busy day' sh tests/fault/killed_day.sh "$build" 200
run 'kills of a restore and a repair' sh tests/fault/restore_killed.sh "$build" 150
run 'writes, flushes, renames that fail, each in turn; allocations, more and more apart' sh tests/fault/fail_once.sh "$build" 1
run 'power cuts' sh tests/fault/power.sh "$build" 30
echo "$passed passed, $failed failed"
[ $failed = 0 ]
