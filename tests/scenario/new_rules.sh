# Goal: when the configuration changes, what was decided under the old one is judged anew at the next start: recorded
# once where it comes out otherwise, silent where it does not. A setter who corrected a profile found his pair held for
# ever, because its files had not changed.
. "$(dirname "$0")/lib.sh"

conf() {
	printf '[yoke]\nsettle_ms = 100\n%s\n' "$1" >"$home/yoke.conf"
}

conf '[weights]
stop-one-channel = refuse'
start
expect_events 1 kind=configured
drop_pair J1001 A 1001
program J1002 A upper 1002 201 | sed 's/^M30/M01\nM30/' >"$programs/J1002-A.upper.nc"
program J1002 A lower 1002 201 >"$programs/J1002-A.lower.nc"
becomes released J1001 A
becomes held J1002 A
expect_in why 'refuse stop-one-channel' "$(findings_of J1002 A)"
stop

# A lighter weight: the pair is released, without having arrived again, and the change of the rules stands before it.
conf ''
start
becomes released J1002 A
expect_events 2 kind=configured
expect_events 4 kind=arrived
expect_events 1 'kind=released&job=J1001'
expect_in 'who decided' 'configuration was changed' "$(events 'kind=released&job=J1002' | jq -r .who)"
expect_in 'the verdict beside the programs' 'released' "$(head -n 1 "$programs/.yoke/J1002-A.txt")"
stop

# The same rules again: nothing happens.
start
within "$patience" idle || fail 'the folder was not looked through'
expect_events 4 kind=arrived
expect_events 2 kind=configured
expect_events 2 kind=released
stop

# Other wait codes: what disagreed under them means nothing to the old ones.
conf '[wait]
codes = M300-M399
[weights]
text-after-end = refuse'
printf '%%\nO1003 (JOB J1003 REV A UPPER)\nM300\nM30\n%%\n' >"$programs/J1003-A.upper.nc"
printf '%%\nO1003 (JOB J1003 REV A LOWER)\nM301\nM30\n%%\n' >"$programs/J1003-A.lower.nc"
start
becomes held J1003 A
conf ''
stop
start
becomes released J1003 A
sound
stop
