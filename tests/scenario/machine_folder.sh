# Goal: a program in the folder of a machine is read and judged by that machine's profile, and the
# same job in the shop's own folder, or in another machine's, is another pair.
. "$(dirname "$0")/lib.sh"

mkdir -p "$home/machines" "$scratch/share-a" "$scratch/share-b"
cat >"$home/yoke.conf" <<CONF
[yoke]
settle_ms = 100
CONF
cat >"$home/machines/LATHE-A.conf" <<CONF
[line]
kind = directory
root = $scratch/share-a
[programs]
names = {job}_{rev}.{channel}
channels = left, right
[wait]
codes = M300-M399
[limits]
number_colon = yes
CONF
cat >"$home/machines/LATHE-B.conf" <<CONF
[line]
kind = directory
root = $scratch/share-b
[weights]
stop-one-channel = refuse
CONF
start
expect 'folders of the machines' 'LATHE-A LATHE-B' "$(cd "$programs" && echo *)"

# M201 is a wait code for the shop and for B, not for A: without any meeting A's pair agrees too,
# but only A takes the names, the channels and the colon.
for channel in left right; do
	printf '%%\n:4417 (MADE FOR A)\nM300\nM201\nM30\n%%\n' >"$programs/LATHE-A/J4417_C.$channel"
done
becomes released J4417 C LATHE-A
expect 'meetings on A' 1 "$(pair_of J4417 C LATHE-A | jq .report.meetings)"
expect_in 'the ladder of A' M300 "$(cat "$programs/.yoke/LATHE-A/J4417-C.txt")"

# An optional stop in one channel: the shop warns, B refuses.
for folder in . LATHE-B; do
	printf '%%\nO4418 (JOB J4418 REV C UPPER)\nM201\nM01\nM30\n%%\n' >"$programs/$folder/J4418-C.upper.nc"
	printf '%%\nO4418 (JOB J4418 REV C LOWER)\nM201\nM30\n%%\n' >"$programs/$folder/J4418-C.lower.nc"
done
becomes released J4418 C
appears 'kind=arrived&job=J4418&machine=LATHE-B'
within "$patience" test -f "$programs/.yoke/LATHE-B/J4418-C.txt" || fail 'no verdict for B'
barrier
expect 'the same pair for B' held "$(state_of J4418 C LATHE-B)"
expect_in 'why' 'refuse stop-one-channel' "$(findings_of J4418 C LATHE-B)"

# Halves in two folders are no pair.
program J4419 C upper 4419 201 >"$programs/J4419-C.upper.nc"
program J4419 C lower 4419 201 >"$programs/LATHE-B/J4419-C.lower.nc"
barrier
expect 'half in the shop folder' held "$(state_of J4419 C)"
expect 'half in the folder of B' held "$(state_of J4419 C LATHE-B)"

# A deeper folder belongs to the machine whose folder it is in; one with an unknown name to none.
mkdir -p "$programs/LATHE-B/brackets/new" "$programs/brackets"
drop_pair J4420 C 4420 LATHE-B/brackets/new
drop_pair J4421 C 4421 brackets
becomes released J4420 C LATHE-B
becomes released J4421 C
# A's profile does not take the shop's names.
drop_pair J4422 C 4422 LATHE-A
appears 'kind=held&machine=LATHE-A&job=J4422'
barrier
expect 'names that A does not take' held "$(state_of J4422 C LATHE-A)"
sound
stop
