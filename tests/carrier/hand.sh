#!/bin/sh
# Goal: yoke-carrier by hand sends, fetches and inspects over a share, writes over nothing, and tells wrong use
# with status 2.
# Usage: hand.sh YOKE-CARRIER
set -eu
carrier=$1
home=$(mktemp -d)
trap 'rm -rf "$home"' EXIT INT TERM
cd "$home"
mkdir -p share/path1 share/path2
: > share/MARKER
printf '%%\nO1(JOB 1 REV A UPPER)\nM30\n%%\n' > 1-A.upper.nc
printf '%%\nO1(JOB 1 REV A LOWER)\nM30\n%%\n' > 1-A.lower.nc
cat > M1.conf <<EOF
[line]
kind = directory
root = $home/share
marker = MARKER
[line upper]
folder = path1
[line lower]
folder = path2
EOF

status() { # EXPECTED COMMAND...
	want=$1
	shift
	got=0
	"$@" 2> said || got=$?
	[ "$got" = "$want" ] || { echo "$*: status $got, not $want"; cat said; exit 1; }
}
says() {
	grep -q -- "$1" said || { echo "not said: $1"; cat said; exit 1; }
}

status 0 "$carrier" send M1.conf upper=1-A.upper.nc lower=1-A.lower.nc --name upper=1.NC --name lower=1.NC
says 'upper: the machine holds the new program (read back and equal)'
says 'Prove out before production'
cmp 1-A.upper.nc share/path1/1.NC
cmp 1-A.lower.nc share/path2/1.NC

status 0 "$carrier" fetch M1.conf --name upper=1.NC upper=back
cmp 1-A.upper.nc back
status 1 "$carrier" fetch M1.conf --name upper=1.NC upper=back
says 'back could not be written: File exists'

# What is replaced is kept beside, each time anew: a second order found FILE.before there, said that the old
# program could not be written, and replaced it all the same. Where it cannot be kept nothing is replaced.
for edit in one two; do
	printf '%%\nO1(EDIT %s)\nM30\n%%\n' $edit > share/path1/1.NC
	status 0 "$carrier" send M1.conf upper=1-A.upper.nc lower=1-A.lower.nc --name upper=1.NC --name lower=1.NC
done
grep -q 'EDIT one' 1-A.upper.nc.before
grep -q 'EDIT two' 1-A.upper.nc.before.2
mkdir away
cp 1-A.*.nc away
printf '%%\nO1(EDIT three)\nM30\n%%\n' > share/path1/1.NC
ln -s "$home/nowhere/x" away/1-A.upper.nc.before
for k in $(seq 2 999); do : > away/1-A.upper.nc.before.$k; done
status 1 "$carrier" send M1.conf upper=away/1-A.upper.nc lower=away/1-A.lower.nc --name upper=1.NC --name lower=1.NC
says 'could not be written'
grep -q 'EDIT three' share/path1/1.NC
cp 1-A.upper.nc share/path1/1.NC

status 0 "$carrier" inspect M1.conf --name upper=1.NC upper=1-A.upper.nc
says 'upper: the machine holds the new program'

# With a control's line ends; the name is taken as it is given, and --help says so.
sed 's/^marker/eob = crlf\nshort_names = yes\n&/' M1.conf > M2.conf
status 0 "$carrier" send M2.conf upper=1-A.upper.nc lower=1-A.lower.nc
sed 's/$/\r/' 1-A.upper.nc | cmp - share/path1/1-A.upper.nc
status 0 "$carrier" inspect M2.conf upper=1-A.upper.nc
says 'upper: the machine holds the new program'
status 2 "$carrier" send M2.conf
says 'eob is applied'
rm share/MARKER
status 1 "$carrier" send M1.conf upper=1-A.upper.nc
says "marker file 'MARKER' is not in"

status 2 "$carrier" send
status 2 "$carrier" push M1.conf upper=1-A.upper.nc
status 2 "$carrier" send M1.conf
status 2 "$carrier" send M1.conf upper
status 2 "$carrier" send M1.conf third=1-A.upper.nc
says "no channel 'third'"
status 2 "$carrier" send M1.conf upper=nothing-here.nc
status 2 "$carrier" send nothing-here.conf upper=1-A.upper.nc
status 2 "$carrier" send M1.conf --order x upper=1-A.upper.nc
status 2 "$carrier" send M1.conf --name upper=1.NC
