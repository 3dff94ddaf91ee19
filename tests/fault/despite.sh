# Goal: a rule that refuses a pair can be overruled by name, with a reason and a person that stand in the trail,
# for exactly those programs; what is absolute cannot. Who may not release needs somebody who may.
. "$(dirname "$0")/people.sh"
settings settle_ms 100
printf '[duties]\nrelease = games, man\nrelease-again = mail, man\n' >>"$home/yoke.conf"
share LATHE1
share LATHE2
printf '[release]\nabsolute = number-clash\n' >>"$home/machines/LATHE2.conf"
share LATHE3
printf '[release]\nabsolute = tab\n' >>"$home/machines/LATHE3.conf"
printf '[weights]\ntab = refuse\n' >>"$home/yoke.conf"
open_shop

dropped J1001 A 4417 games games
becomes released J1001 A
dropped J1002 A 4417 games games
becomes held J1002 A
expect_in 'what holds it' number-clash "$(why_of J1002 A)"

# Who may, and what it takes.
denied "the duty 'release-again' is for the groups mail, man" news accept J1002@A --despite number-clash --reason x
denied 'is held by the check: number-clash' mail accept J1002@A
denied 'a reason is needed' mail accept J1002@A --despite number-clash
denied 'a reason is needed' mail accept J1002@A --despite number-clash --reason ' '
denied "there is no rule 'number-crash'" mail accept J1002@A --despite number-crash --reason x
denied 'size does not hold job J1002 revision A, but: number-clash' mail accept J1002@A --despite size --reason x
denied 'no pair of job J1002 at revision B' mail accept J1002@B --despite number-clash --reason x
expect 'still' held "$(state_of J1002 A)"
expect_events 0 kind=accepted

done_by mail accept J1002@A --despite number-clash --reason 'J1001 is no longer made'
expect_in 'what is said' 'J1002@A: accepted; released' "$said"
becomes released J1002 A
expect 'the event' 'mail (uid 8, group mail) number-clash refuse 2 J1001 is no longer made' \
	"$(events kind=accepted | jq -r '[.who, .outcome, .detail.weight, (.detail.findings | tostring), .text] | join(" ")')"
expect 'the finding counts as a warning' 'warn number-clash' "$(findings_of J1002 A)"
expect_in 'the verdict beside the programs' 'accepted despite number-clash by mail (uid 8, group mail): J1001 is no longer made' \
	"$(cat "$programs/.yoke/J1002-A.txt")"
done_by games job J1002
expect_in 'the job' 'accepted despite number-clash by mail (uid 8, group mail)' "$said"
done_by games send J1002@A LATHE1
expect_machine LATHE1 'loaded J1002@A read back'


# A rule of the program itself, in the folder of all: a machine for which it is absolute does not take it.
for c in upper lower; do
	program J1005 A $c 1005 201 202 | sed 's/G0 X40/G0	X40/' >"$scratch/one"
	chown games "$scratch/one"
	mv "$scratch/one" "$programs/J1005-A.$c.nc"
done
becomes held J1005 A
expect 'what holds it' 'refuse tab' "$(findings_of J1005 A)"
done_by mail accept J1005@A --despite tab --reason 'the control takes it'
becomes released J1005 A
done_by games send J1005@A LATHE1
expect_machine LATHE1 'loaded J1005@A read back'
denied 'tab: J1005-A' games send J1005@A LATHE3

# Another program of the same revision is another matter.
for c in upper lower; do
	program J1002 A $c 4417 201 202 | sed 's/X40/X41/' >"$scratch/one"
	chown games "$scratch/one"
	mv "$scratch/one" "$programs/J1002-A.$c.nc"
done
refused_twice() { findings_of J1002 A | grep -q 'refuse revision-reused' && findings_of J1002 A | grep -q 'refuse number-clash'; }
within "$patience" refused_twice || fail "what holds the changed pair: $(findings_of J1002 A)"

# --- What is absolute ---

program J2001 A upper 2001 201 202 203 >"$programs/J2001-A.upper.nc"
program J2001 A lower 2001 201 203 >"$programs/J2001-A.lower.nc"
chown games "$programs"/J2001-A.*
becomes held J2001 A
denied 'wait-missing is absolute here' man accept J2001@A --despite wait-missing --reason 'I want it'
denied 'and nobody may accept a pair despite it' mail accept J2001@A --despite number-clash --reason 'I want it'
expect 'still' held "$(state_of J2001 A)"
dropped J2002 A 2002 games games LATHE2
becomes released J2002 A LATHE2
dropped J2003 A 2002 games games LATHE2
becomes held J2003 A LATHE2
denied 'number-clash is absolute here' mail accept J2003@A --despite number-clash --reason 'J2002 is no longer made'

# --- Dropped by one who may not release ---

dropped J3001 A 3001 games news
becomes held J3001 A
expect 'what it waits for' "for-release: dropped by news (uid 9), without the duty 'release'; it waits until somebody who has it accepts the pair: \`yoke accept J3001@A\`" \
	"$(why_of J3001 A)"
denied "dropped by news (uid 9), without the duty 'release'" mail accept J3001@A
done_by man accept J3001@A
becomes released J3001 A
expect 'for what' for-release "$(events 'kind=accepted&job=J3001' | jq -r .outcome)"

# An unknown owner may not either; he need not be another, since who accepts may release by himself.
dropped J3002 A 3002 4711 4711
becomes held J3002 A
done_by man accept J3002@A
becomes released J3002 A
sound

# --- The rules change: what is absolute by now holds what was accepted ---

stop
dropped J1003 A 4419 games games
dropped J1004 A 4419 games games
open_shop
becomes held J1004 A
done_by mail accept J1004@A --despite number-clash --reason 'J1003 is no longer made'
becomes released J1004 A
stop
printf '[release]\nabsolute = number-clash\n' >>"$home/yoke.conf"
open_shop
becomes held J1004 A
expect_in 'why' number-clash "$(why_of J1004 A)"
sound
stop
