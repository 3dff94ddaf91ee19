#!/bin/sh
# Goal: the oracle finds faults of the proof. Each fault of mutants.txt is put into a copy of its
# file, alone; the check that is built with it must contradict what the model checker found.
#     mutants.sh SOURCES FOLDER 'SEED...' JOBS LIBRARY CC OBJECT...
# FOLDER/SEED holds what `oracle expect SEED JOBS FOLDER/SEED` left; OBJECT... are those of the
# oracle. Rare faults show in the jobs of one seed and not in those of another: one is enough.
set -eu
core=$1/daemon/core include=$1/include list=$1/tests/oracle/mutants.txt
folder=$2 seeds=$3 jobs=$4 library=$5 cc=$6
shift 6

found=0 faults=0 number=0

# Put the fault at hand into a copy; fails unless the text stands there exactly once.
mutate() { # file, copy
	OLD=$old NEW=$new awk '
		$0 == ENVIRON["OLD"] { n++; print ENVIRON["NEW"]; next }
		{ print }
		END { exit n != 1 }' "$core/$1" >"$2"
}

try() {
	faults=$((faults + 1))
	base=$folder/mutant
	mutate "$file" "$base.c" || {
		echo "MISSED: $title: its text does not stand in $file exactly once"
		return 0
	}
	"$cc" -std=gnu11 -O1 -w -D_GNU_SOURCE -I"$include" -I"$core/base" -I"$core/nc" \
		-I"$core/wait" -c -o "$base.o" "$base.c"
	"$cc" -o "$base" "$@" "$base.o" "$library" -lm
	status=0
	for seed in $seeds; do
		timeout 30 "$base" compare "$seed" "$jobs" "$folder/$seed" >"$base.out" 2>&1 || status=$?
		[ "$status" -eq 0 ] || break
	done
	case $status in
	0) echo "MISSED: $title" ;;
	1)
		found=$((found + 1))
		echo "found: $title: $(tail -n 1 "$base.out")"
		;;
	124)
		found=$((found + 1))
		echo "found: $title: it comes to no end"
		;;
	134 | 136 | 139)
		found=$((found + 1))
		echo "found: $title: it breaks down"
		;;
	*) echo "MISSED: $title: status $status" ;;
	esac
}

# Without a fault there must be nothing to find.
"$cc" -o "$folder/mutant" "$@" "$library" -lm
for seed in $seeds; do
	"$folder/mutant" compare "$seed" "$jobs" "$folder/$seed"
done

# The paragraphs of the list.
{ grep -v '^#' "$list"; echo; } >"$folder/mutants"
exec 3<"$folder/mutants"
while IFS= read -r line <&3; do
	case $number:$line in
	0:) continue ;;
	0:*) title=$line ;;
	1:*) file=$line ;;
	2:*) old=$line ;;
	3:*) new=$line ;;
	4:*)
		try "$@"
		number=-1
		;;
	esac
	number=$((number + 1))
done
echo "$found of $faults faults found"
[ "$found" -eq "$faults" ] && [ "$faults" -ge 12 ]
