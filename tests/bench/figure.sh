# shellcheck shell=sh
# A line of the figures, to be sourced.

# figure NAME VALUE UNIT BASE TO-WHAT: the ratio is VALUE to BASE.
figure() {
	awk -v name="$1" -v value="$2" -v unit="$3" -v base="$4" -v what="$5" \
		'BEGIN { printf "%-28s %10s %-9s %7.3f  %s\n", name, value, unit, value / base, what }'
}
