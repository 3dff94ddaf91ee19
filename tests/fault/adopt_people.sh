# Goal: who adopts stands for the programs as if he had dropped them: where a second person is asked for
# it is another than he, and only who may release may adopt at all.
. "$(dirname "$0")/people.sh"
settings settle_ms 100
printf '[duties]\nrelease = games, mail\n' >>"$home/yoke.conf"
share LATHE1
printf '[release]\ntwo_person = yes\n' >>"$home/machines/LATHE1.conf"
mkdir -p "$programs/LATHE1"
open_shop
dropped J1001 A 1001 games games LATHE1
becomes held J1001 A LATHE1
done_by mail accept J1001@A
becomes released J1001 A LATHE1
done_by mail send J1001@A LATHE1
expect_machine LATHE1 'loaded J1001@A read back'
sed -i 's/F0.2$/F0.3/' "$(on LATHE1 upper J1001)"
as mail fetch LATHE1
expect_machine LATHE1 'loaded J1001@A drift'

denied "the duty 'release' is for the group" news adopt LATHE1 --rev B
expect_machine LATHE1 'loaded J1001@A drift'
as games adopt LATHE1 --rev B --note 'feed'
expect 'status of a pair that waits for a second person' 1 "$did"
expect_in 'what is said' 'J1001@B: adopted from machine LATHE1, held: second-person: dropped by games (uid 5, group games)' "$said"
becomes held J1001 B LATHE1
denied 'you, games (uid 5, group games), dropped the program of' games accept J1001@B
denied 'is held and is not sent' mail send J1001@B LATHE1
denied 'was adopted from this machine and is not released' mail prove LATHE1
done_by mail accept J1001@B
becomes released J1001 B LATHE1
denied 'carries the released pair' mail prove LATHE1
done_by mail send J1001@B LATHE1
done_by mail prove LATHE1
expect_machine LATHE1 'loaded J1001@B read back proven'
done_by news history J1001
expect_in 'who adopted' 'adopted from LATHE1, where revision A was changed: ' "$said"
expect_in 'who accepted' 'accepted, second-person: ' "$said"
sound
stop
