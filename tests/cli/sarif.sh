#!/bin/sh
# Goal: what `yoke check --format sarif` writes is valid by the published schema of SARIF 2.1.0.
# Arguments: the build folder, and the schema that tests/need.sh fetches. Without it: status 77.
set -eu
yoke=$1/cli/yoke schema=$2
[ -s "$schema" ] || { echo "no schema: sh tests/run.sh fetches it"; exit 77; }
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
cd "$scratch"

valid() { # FILE
	/usr/bin/python3 - "$schema" "$1" <<'END'
import json, sys
from jsonschema import Draft4Validator
with open(sys.argv[1]) as s, open(sys.argv[2]) as f:
    errors = list(Draft4Validator(json.load(s)).iter_errors(json.load(f)))
for e in errors[:5]:
    print("/".join(map(str, e.absolute_path)), e.message[:200])
sys.exit(1 if errors else 0)
END
}

written() { # STATUS ARGUMENT...: the log is written to log.json, and valid
	expected=$1
	shift
	status=0
	"$yoke" check "$@" --format sarif >log.json || status=$?
	[ "$status" = "$expected" ] || { echo "check $*: status $status, not $expected"; exit 1; }
	valid log.json || { echo "check $*: not valid"; exit 1; }
}

program() { # CHANNEL BODY
	printf '%%\nO4417(JOB J4417 REV C %s)\n%b\nM30\n%%\n' "$1" "$2"
}

program UPPER 'G0X1.\nM201' >J4417-C.upper.nc
program LOWER 'G0X2.\nM201' >J4417-C.lower.nc
written 0 J4417-C.upper.nc J4417-C.lower.nc

# Places and second places, files as a whole, bytes of any kind in text and name.
program LOWER 'g0X2\n(30\0260\nM202\nG1X1.2.3\n\0377\n[#1' >"odd name %41.nc"
printf '' >empty.nc
written 1 J4417-C.upper.nc "odd name %41.nc"
written 1 empty.nc J4417-C.lower.nc
written 1 "$PWD/J4417-C.upper.nc" "$PWD/J4417-C.upper.nc"
mv "odd name %41.nc" "$(printf 'latin-\304.nc')"
written 1 J4417-C.upper.nc "$(printf 'latin-\304.nc')"

# Weights of a machine, one file for both channels, a mate that is missing.
printf '[programs]\nseparator = $ {channel}\n[weights]\njob-unknown = off\nwait-missing = note\n' >L.conf
printf '%%\n$1\nM201\nM30\n$2\nM30\n%%\n' >both.nc
written 1 both.nc --machine L.conf
printf '%%\n$1\nM201\nM30\n%%\n' >half.nc
written 1 half.nc --machine L.conf

# The schema refuses what it should: a log without its version, a result of another shape.
jq 'del(.version)' log.json >bad.json
! valid bad.json >/dev/null || { echo "a log without version is taken for valid"; exit 1; }
jq '.runs[0].results[0].level = "refuse"' log.json >bad.json
! valid bad.json >/dev/null || { echo "a level of our own is taken for valid"; exit 1; }
