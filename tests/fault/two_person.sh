# Goal: where a second person is asked for, a pair goes to no machine until somebody who certainly dropped
# none of it accepts it; whoever cannot be told from the dropper counts as the same.
. "$(dirname "$0")/people.sh"
settings settle_ms 100
printf '[owners]\nwww-data = the file server\n' >>"$home/yoke.conf"
share LATHE1 'on_release = carry'
printf '[release]\ntwo_person = yes\n' >>"$home/machines/LATHE1.conf"
share LATHE2
open_shop

# --- One drops both ---

dropped J1001 A 1001 games games LATHE1
becomes held J1001 A LATHE1
# shellcheck disable=SC2016 # the backquotes are meant as such
expect 'what it waits for' 'second-person: dropped by games (uid 5); it waits until somebody else accepts it: `yoke accept J1001@A`' \
	"$(why_of J1001 A LATHE1)"
expect_in 'the verdict beside the programs' 'second-person: dropped by games' "$(cat "$programs/.yoke/LATHE1/J1001-A.txt")"
denied 'is held and is not sent: second-person' mail send J1001@A LATHE1
denied 'you, games (uid 5, group games), dropped the program of' games accept J1001@A
denied 'several people may stand behind root' root accept J1001@A
denied 'which person that is nobody can say' 4711 accept J1001@A
denied "several people stand behind a file server's account" www-data accept J1001@A
denied "several people stand behind a file server's account" www-data accept J1001@A --reason 'I am somebody else'
expect 'still' held "$(state_of J1001 A LATHE1)"
expect_events 0 kind=accepted
[ "$(events kind=refused | jq -r 'select(.outcome == "same-person") | .job + "@" + .revision + " " + .machine' | sort -u)" = 'J1001@A LATHE1' ] ||
	fail "the refusals are not told: $(events kind=refused)"

done_by mail accept J1001@A --reason 'compared with the drawing'
expect_in 'what is said' 'J1001@A: accepted; released' "$said"
expect_in 'the caution' 'Prove out every new' "$said"
becomes released J1001 A LATHE1
events kind=accepted >"$scratch/accepted"
expect 'the event' 'mail (uid 8, group mail) socket LATHE1 J1001 A second-person compared with the drawing 2' \
	"$(jq -r '[.who, .from, .machine, .job, .revision, .outcome, .text, (.parts | length | tostring)] | join(" ")' "$scratch/accepted")"
expect 'who dropped it, in the event' '[["lower","games (uid 5)"],["upper","games (uid 5)"]]' \
	"$(jq -c '[.detail.dropped[] | [.channel, .who]] | sort' "$scratch/accepted")"
expect 'who released it' 'mail (uid 8, group mail)' "$(events 'kind=released&job=J1001' | jq -r .who)"
expect 'who dropped it, still' 'games (uid 5)' "$(pair_of J1001 A LATHE1 | jq -r .by)"
machine_becomes LATHE1 'loaded J1001@A read back'
done_by mail job J1001
expect_in 'the job' 'accepted as the second person by mail (uid 8, group mail)' "$said"
denied 'accepted by a second person before' news accept J1001@A

# --- Each drops one: neither may accept ---

dropped J1002 A 1002 games news LATHE1
becomes held J1002 A LATHE1
expect_in 'both are told' 'dropped by games (uid 5) and news (uid 9)' "$(why_of J1002 A LATHE1 | sed 's/news (uid 9) and games (uid 5)/games (uid 5) and news (uid 9)/')"
denied 'dropped the program of upper yourself' games accept J1002@A
denied 'dropped the program of lower yourself' news accept J1002@A
done_by mail accept J1002@A
becomes released J1002 A LATHE1

# --- Whoever is no one known person may be the same ---

dropped J1003 A 1003 4711 games LATHE1
dropped J1004 A 1004 games www-data LATHE1
dropped J1005 A 1005 root games LATHE1
dropped J1006 A 1006 games games LATHE1 664
for n in 3 4 5 6; do becomes held J100$n A LATHE1; done
denied 'upper was dropped by uid 4711, no such user, and which person that is nobody can say: it may have been you' mail accept J1003@A
denied "lower was dropped by somebody through the file server (account www-data, uid 33), and several people" mail accept J1004@A
denied 'upper was dropped by root (uid 0), and several people may stand behind root' mail accept J1005@A
denied 'dropped by games (uid 5), in a file that others may write, and' mail accept J1006@A
for n in 3 4 5 6; do expect "J100$n" held "$(state_of J100$n A LATHE1)"; done

# --- Accepted were those programs, and no others ---

program J1001 A upper 1001 201 | sed 's/X40/X41/' >"$scratch/one"
chown games "$scratch/one"
mv "$scratch/one" "$programs/LATHE1/J1001-A.upper.nc"
becomes held J1001 A LATHE1
expect_in why revision-reused "$(why_of J1001 A LATHE1)"

# --- From the folder of all: released for machines that ask for nobody ---

dropped J2001 A 2001 games games
becomes released J2001 A
denied 'second-person: dropped by games (uid 5)' mail send J2001@A LATHE1
expect_machine LATHE1 'loaded J1002@A read back'
done_by mail send J2001@A LATHE2
expect_machine LATHE2 'loaded J2001@A read back'
denied 'it takes a second person' games accept J2001@A
done_by news accept J2001@A
done_by games send J2001@A LATHE1
expect_machine LATHE1 'loaded J2001@A read back'

# A setting that comes later holds what waits in the queue.
dropped J2002 A 2002 games games
becomes released J2002 A
hold
done_by mail send J2002@A LATHE2 --no-wait
within "$patience" held || fail 'no carrier was begun'
crash
printf '[release]\ntwo_person = yes\n' >>"$home/machines/LATHE2.conf"
let_go
open_shop
waits_no_more() { [ "$(api '/v1/orders?open=no' | jq -r '.orders[] | select(.job == "J2002") | .state')" = failed ]; }
within "$patience" waits_no_more || fail "the order: $(api '/v1/orders?open=no' | jq -c '.orders[] | select(.job == "J2002")')"
expect_in 'why it failed' 'was not accepted by a second person' "$(api '/v1/orders?open=no' | jq -r '.orders[] | select(.job == "J2002") | .text')"
expect_machine LATHE2 'loaded J2001@A read back'

# --- The machine's folder and that of all at once: one has to be named ---

dropped J3001 A 3001 games games
dropped J3001 A 3001 games games LATHE1
becomes released J3001 A
becomes held J3001 A LATHE1
denied 'lies in 2 folders' mail accept J3001@A
done_by mail accept J3001@A --machine LATHE1
becomes released J3001 A LATHE1
denied 'no pair of job J3001 at revision B' mail accept J3001@B

# --- What was changed at the machine: who adopts it stands for it, and so it takes another ---

machine_becomes LATHE1 'loaded J3001@A read back'
sed -i 's/F0.2/F0.3/' "$(on LATHE1 upper J3001)"
as mail fetch LATHE1
as games adopt LATHE1 --rev B
expect 'status of a pair that is adopted and held' 1 "$did"
becomes held J3001 B LATHE1
expect_in 'what it waits for' 'second-person: dropped by games (uid 5, group games)' "$(why_of J3001 B LATHE1)"
denied 'dropped the program of' games accept J3001@B
done_by news accept J3001@B
becomes released J3001 B LATHE1
machine_becomes LATHE1 'loaded J3001@B read back'
as mail accept J3001
expect 'status without a revision' 2 "$did"
sound
stop

# What was accepted outlives the service.
open_shop
expect 'after a restart' released "$(state_of J1002 A LATHE1)"
sound
stop
