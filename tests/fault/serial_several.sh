# Goal: an operator who has all programs of a control punched gets the same answer as one who has one
# punched: the program that was carried there is found by its number among them and compared, with
# each % of its own or one for all; the others are kept and named, and nothing that came is dropped.
. "$(dirname "$0")/shop.sh"
settings settle_ms 100
control LATHE1 --line-upper 0 --line-lower 0 --store "$scratch/LATHE1.store" --speed 115200
serial LATHE1 'read_back = punch' 'read_back_ms = 5000'
# What this one punches as its program 1 are the programs of both channels, of one number.
mkdir -p "$scratch/battery/upper"
printf '%%\nO4417(UPPER)\nM30\nO4417(LOWER)\nM30\n%%\n' >"$scratch/battery/upper/O0001.nc"
control LATHE2 --line 0 --battery "$scratch/battery" --speed 115200
serial LATHE2 'read_back = none' 'read_back_ms = 3000'
start
drop_pair J4417 C 4417
becomes released J4417 C
# A main program with its subprogram in one file.
for c in upper lower; do
	program J5020 A $c 5020 201 202 | sed -e '/^M202/s/$/\nM98 P417/' -e '/^%$/!b' -e '1!s/.*/O0417\nG4 U0.5\nM99\n%/' \
		>"$programs/J5020-A.$c.nc"
done
becomes released J5020 A

loads() { # NAME: the operator sets the channels to read, when each is waited for
	for c in upper lower; do
		waited() { [ "$(of "$1" .progress.channel)" = "$2" ] && [ "$(of "$1" .progress.phase)" = wait ]; }
		within "$patience" waited "$1" $c || fail "nobody waits for $c of $1: $(api "/v1/machines/$1")"
		operator "$1" "read $c" >/dev/null
	done
}
punches() { # NAME CHANNEL WHAT: when its copy is waited for
	punch_of() { [ "$(of "$1" .progress.phase)" = punch ] && [ "$(of "$1" .progress.channel)" = "$2" ]; }
	within "$patience" punch_of "$@" || fail "nobody waits for the copy of $2: $(api "/v1/machines/$1")"
	operator "$1" "punch $2 $3" >/dev/null
}
found() { # ORDER: what was told of programs beside the copy, one a line
	events 'kind=arrived' | jq -r "select(.order == $1 and .outcome == \"found\") | .parts[0].channel + \" \" + (.text | split(\" came\")[0])"
}

# The control holds other programs already: the operator's own.
for c in upper lower; do
	operator LATHE1 "key $c 1 \"WARM UP\"" >/dev/null
done
operator LATHE1 'key lower 9001 "PROBE"' >/dev/null
send J4417 C LATHE1
loads LATHE1
punches LATHE1 upper all
punches LATHE1 lower 'all each'
expect 'the order' done "$(outcome_of "$order")"
expect_machine LATHE1 'loaded J4417@C read back'
expect 'what else came' 'lower O0001 lower O9001 upper O0001' "$(found "$order" | sort | tr '\n' ' ' | sed 's/ $//')"
expect_in 'what is told' 'in one stream with lower came 2 other programs: O0001, O9001' "$(api "/v1/orders/$order" | jq -r .text)"
sum=$(events kind=arrived | jq -r "select(.order == $order and (.text | startswith(\"O9001\"))) | .parts[0].after")
expect 'the kept program' "$(printf 'O9001(PROBE)\nM30')" "$(api "/v1/programs/$sum")"

# Fetched the same way, with an edit that is found in the right program.
operator LATHE1 'edit lower F0.2 F0.25' >/dev/null
"$build/cli/yoke" fetch LATHE1 --out "$scratch/fetched" >"$scratch/said" 2>&1 &
command=$!
punches LATHE1 upper 'all each'
punches LATHE1 lower all
status=0
wait $command || status=$?
said=$(tr -s '\n ' ' ' <"$scratch/said")
expect 'status of yoke fetch after a change' 1 "$status"
expect_in 'yoke fetch' 'upper is what was carried there' "$said"
expect_in 'yoke fetch' 'lower differs from what was carried there: 1 change' "$said"
expect_in 'yoke fetch' 'in one stream with upper came 1 other program: O0001' "$said"
expect_in 'yoke fetch' 'in one stream with lower came 2 other programs: O0001, O9001' "$said"
order=$(events kind=fetched | tail -n 1 | jq -r .order)
expect 'the drift' 'lower feed' "$(events kind=drift | tail -n 1 | jq -r '.detail.changes[] | .channel + " " + .kind')"
cmp "$programs/J4417-C.upper.nc" "$scratch/fetched/LATHE1.upper.nc" || fail 'the fetched upper program is not the dropped one'
[ "$(grep -c '^O' "$scratch/fetched/LATHE1.lower.nc")" = 1 ] || fail 'the fetched lower program holds others'
expect 'what else came' 'lower O0001 lower O9001 lower all that upper O0001 upper all that' "$(found "$order" | sort | tr '\n' ' ' | sed 's/ $//')"
whole=$(events kind=arrived | jq -r "select(.order == $order and (.text | startswith(\"all that\")) and .parts[0].channel == \"lower\") | .parts[0].after")
expect 'programs of the whole stream' 'O0001 O9001 O4417' "$(api "/v1/programs/$whole" | grep -o '^O[0-9]*' | tr '\n' ' ' | sed 's/ $//')"

# What was carried there is not among what comes.
operator LATHE1 'delete lower 4417' >/dev/null
order LATHE1/fetch '{"channel":"lower"}'
punches LATHE1 lower all
expect 'the fetch' done "$(outcome_of "$order")"
expect_machine LATHE1 'loaded J4417@C drift'
expect_in 'what is told' 'of lower came O0001, O9001, and nothing of what was carried there' "$(of LATHE1 .text)"

# A file of two programs is two for the control, and comes in the order in which it keeps them.
send J5020 A LATHE1
loads LATHE1
punches LATHE1 upper all
punches LATHE1 lower all
expect 'the order' done "$(outcome_of "$order")"
expect_machine LATHE1 'loaded J5020@A read back'
operator LATHE1 'delete upper 417' >/dev/null
order LATHE1/fetch '{"channel":"upper"}'
punches LATHE1 upper all
expect 'the fetch' done "$(outcome_of "$order")"
expect_machine LATHE1 'loaded J5020@A drift'
expect_in 'what is told' 'O0417 of upper did not come' "$(of LATHE1 .text)"

# Two programs of one number: which of them is the upper channel's cannot be told.
send J4417 C LATHE2
loads LATHE2
expect 'the order' done "$(outcome_of "$order")"
order LATHE2/fetch '{"channel":"upper"}'
punches LATHE2 upper 1
expect 'the fetch of two programs of one number' failed "$(outcome_of "$order")"
expect_in 'why' 'O4417 came twice with different text' "$(api "/v1/orders/$order" | jq -r .text)"
expect_machine LATHE2 'loaded J4417@C'
expect 'what was kept' 'upper O4417 upper O4417' "$(found "$order" | tr '\n' ' ' | sed 's/ $//')"
sound
stop
