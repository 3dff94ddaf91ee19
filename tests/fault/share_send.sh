# Goal: a pair goes to a share as one: each channel in its own folder with exactly the dropped bytes,
# read back; what lay there before is in the vault first; two machines work at once; and nothing
# held, refused or for a locked machine is ever sent, which is told each time.
. "$(dirname "$0")/shop.sh"
settings settle_ms 100 incomplete_s 2
share LATHE1
share LATHE2
machine LATHE3 <<END
[line]
kind = directory
root = $scratch/LATHE1
marker = HERE
folder = CH3
[limits]
number_max = 4000
END
start
drop_pair J4417 C 4417
drop_pair J4417 D 4417
becomes released J4417 C
becomes released J4417 D
expect_machine LATHE1 'nothing @'

# The command tells the order, the caution of design part 9, and what the machine holds.
yoke send J4417@C LATHE1 >"$scratch/said" 2>&1 || fail "yoke send: $(cat "$scratch/said")"
expect_in 'yoke send' 'single block' "$(cat "$scratch/said")"
expect_pair LATHE1 J4417 C
expect_machine LATHE1 'loaded J4417@C read back'
expect 'steps of a first send' 'write replace replace' \
	"$(events 'kind=step' | jq -r .outcome | tr '\n' ' ' | sed 's/ $//')"
expect 'sums that were told' "$(for c in upper lower; do sum "$programs/J4417-C.$c.nc"; done)" \
	"$(events kind=carried | jq -r '.parts[].after')"
expect_tidy LATHE1

# Without a revision: the newest that was released.
yoke send J4417 LATHE1 >"$scratch/said" 2>&1 || fail "yoke send: $(cat "$scratch/said")"
expect_pair LATHE1 J4417 D
expect_machine LATHE1 'loaded J4417@D read back'

# What somebody else put there is kept before it is replaced, and told as a change.
program J4417 D lower 4417 201 203 >"$(on LATHE1 lower J4417)"
strange=$(sum "$(on LATHE1 lower J4417)")
carried J4417 C LATHE1
expect_pair LATHE1 J4417 C
expect 'the drift that was told' "lower $strange" \
	"$(events kind=drift | jq -r '.parts[] | .channel + " " + .after')"
api "/v1/programs/$strange" | sha256sum | grep -q "^$strange" || fail 'the replaced program is not in the vault'
expect_machine LATHE1 'loaded J4417@C read back'
# The first thing that lay on a share, of which nobody knew, too.
program J1 A upper 1 201 >"$(on LATHE2 upper J4417)"
strange=$(sum "$(on LATHE2 upper J4417)")
carried J4417 C LATHE2
api "/v1/programs/$strange" | sha256sum | grep -q "^$strange" || fail 'what lay on the share before is not in the vault'
expect_pair LATHE2 J4417 C

# Two machines at once: one that stands still does not hold the other.
hold
send J4417 D LATHE1
first=$order
within "$patience" held || fail 'no carrier was started'
carried J4417 D LATHE2
expect 'the order of the machine that stands still' carrying "$(order_state "$first")"
let_go
expect 'its end' done "$(outcome_of "$first")"
expect_pair LATHE1 J4417 D
expect_pair LATHE2 J4417 D

# Held, refused by the machine's own rules, locked, unknown: 4xx, told, and nothing moves.
program J4418 A upper 4418 201 >"$programs/J4418-A.upper.nc"
becomes held J4418 A
cp -a "$scratch/LATHE1" "$scratch/as-it-was"
carrying=$(count_events kind=carrying)
refused 409 held LATHE1/send '{"job":"J4418","revision":"A"}'
refused 409 refused LATHE3/send '{"job":"J4417","revision":"C"}'
refused 404 no-pair LATHE1/send '{"job":"J4417","revision":"X"}'
refused 404 no-pair LATHE1/send '{"job":"J9999"}'
refused 404 no-machine LATHE9/send '{"job":"J4417"}'
refused 400 body LATHE1/send '{}'
refused 400 body LATHE1/send '{"job":4417}'
yoke lock LATHE1 --note 'bar feeder open' >"$scratch/said" || fail "yoke lock: $(cat "$scratch/said")"
refused 409 locked LATHE1/send '{"job":"J4417","revision":"C"}'
refused 409 locked LATHE1/restore
expect_in 'why it is locked' 'bar feeder open' "$(jq -r .text "$answer")"
status=0
yoke send J4417@C LATHE1 >"$scratch/said" 2>&1 || status=$?
expect 'status of yoke send to a locked machine' 1 "$status"
expect_machine LATHE1 'loaded J4417@D read back locked'
expect 'carriers that were started for all this' "$carrying" "$(count_events kind=carrying)"
diff -r "$scratch/as-it-was" "$scratch/LATHE1" || fail 'the share was touched'
sound
stop
