# Goal: what was withdrawn goes to no machine by any way, whoever asks, for good; and nothing of it is lost.
. "$(dirname "$0")/people.sh"
settings settle_ms 100
printf '[duties]\nrelease = games\n' >>"$home/yoke.conf"
share LATHE1
share LATHE2
open_shop
dropped J1001 A 1001 games games
dropped J1001 B 1001 games games
becomes released J1001 A
becomes released J1001 B
done_by news send J1001@A LATHE1
done_by news prove LATHE1
done_by news send J1001@B LATHE1

denied "the duty 'release' is for the group games" news withdraw J1001@A --reason 'the drawing is wrong'
denied 'a reason is needed' games withdraw J1001@A
denied 'no pair of job J1001 at revision C' games withdraw J1001@C --reason x
as games withdraw J1001
expect 'status without a revision' 2 "$did"
expect 'still' released "$(state_of J1001 A)"

done_by games withdraw J1001@A --reason 'the drawing is wrong'
expect_in 'what is said' 'J1001@A: withdrawn' "$said"
case $said in *LATHE1*) fail "LATHE1 holds another revision: $said" ;; esac
becomes withdrawn J1001 A
expect 'the event' 'games (uid 5, group games) J1001 A the drawing is wrong 2' \
	"$(events kind=withdrawn | jq -r '[.who, .job, .revision, .text, (.parts | length | tostring)] | join(" ")')"
expect_in 'the verdict beside the programs' 'withdrawn by games (uid 5, group games): the drawing is wrong' "$(cat "$programs/.yoke/J1001-A.txt")"

# By no way.
denied 'is withdrawn and is not sent: the drawing is wrong' news send J1001@A LATHE1
denied 'is withdrawn and is not sent: the drawing is wrong' news send J1001@A LATHE1 --dry-run
denied 'was withdrawn by games (uid 5, group games), and goes to no machine: the drawing is wrong' news restore LATHE1 --yes
denied 'goes to no machine' news export --last-good LATHE1 "$scratch"
denied 'is withdrawn and is not sent' news export J1001@A LATHE1 "$scratch"
denied 'was withdrawn by games' games accept J1001@A
denied 'was withdrawn before, by games (uid 5, group games): the drawing is wrong' games withdraw J1001@A --reason 'again'
expect_machine LATHE1 'loaded J1001@B read back'

# The newest revision is another: the job goes on with it, by its name alone.
done_by news send J1001 LATHE2
expect_machine LATHE2 'loaded J1001@B read back'
done_by games withdraw J1001@B --reason 'and so is this'
expect_in 'who is told to have it' 'machine LATHE1 holds it' "$said"
expect_in 'who is told to have it' 'machine LATHE2 holds it' "$said"
denied 'the newest revision of job J1001 is B, and it is withdrawn: and so is this' news send J1001 LATHE2

# The same programs again, under another name or after a restart, come to nothing.
mkdir -p "$programs/again"
cp -p "$programs/J1001-A.upper.nc" "$programs/J1001-A.lower.nc" "$programs/again/"
appears 'kind=arrived&job=J1001&after=0'
barrier
expect 'dropped again' withdrawn "$(state_of J1001 A)"
stop
printf '[weights]\ntab = note\n' >>"$home/yoke.conf"
open_shop
within "$patience" idle || fail 'the folder was not looked through'
expect 'after a restart under other rules' withdrawn "$(state_of J1001 A)"
denied 'is withdrawn and is not sent' news send J1001@A LATHE1

# An order that waits, and one that is about to change something, end without doing so.
dropped J1002 A 1002 games games
becomes released J1002 A
hold
done_by news send J1002@A LATHE1 --no-wait
within "$patience" held || fail 'no carrier was begun'
first=$(api '/v1/orders' | jq -r '.orders[] | select(.job == "J1002") | .order')
done_by news send J1002@A LATHE1 --no-wait
second=$(api '/v1/orders' | jq -r '[.orders[] | select(.job == "J1002") | .order] | max')
[ "$first" != "$second" ] || fail 'there are no two orders'
done_by games withdraw J1002@A --reason 'too early'
let_go
for o in $first $second; do
	order_becomes "$o" failed
	expect_in "why order $o failed" 'withdrawn' "$(api "/v1/orders/$o" | jq -r .text)"
done
expect_machine LATHE1 'loaded J1001@B read back'

# In the folder of one machine alone, and in that of all.
dropped J1003 A 1003 games games
dropped J1003 A 1003 games games LATHE2
becomes released J1003 A
becomes released J1003 A LATHE2
done_by games withdraw J1003@A --reason 'not on this one' --machine LATHE2
expect 'for LATHE2' withdrawn "$(state_of J1003 A LATHE2)"
expect 'for all' released "$(state_of J1003 A)"
denied 'is withdrawn and is not sent: not on this one' news send J1003@A LATHE2
done_by news send J1003@A LATHE1
expect_machine LATHE1 'loaded J1003@A read back'

# The last good pair was asked for again when it was withdrawn.
dropped J1004 A 1004 games games
becomes released J1004 A
done_by news send J1004@A LATHE1
done_by news prove LATHE1
done_by news send J1003@A LATHE1
hold
done_by news restore LATHE1 --yes --no-wait
within "$patience" held || fail 'no carrier was begun'
third=$(api '/v1/orders' | jq -r '.orders[] | select(.act == "restore") | .order')
done_by games withdraw J1004@A --reason 'not even then'
let_go
order_becomes "$third" failed
expect_in "why order $third failed" 'withdrawn before its turn came, by games' "$(api "/v1/orders/$third" | jq -r .text)"
expect_machine LATHE1 'loaded J1003@A read back'
sound
stop
