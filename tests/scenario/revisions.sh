# Goal: a revision stands for one content. Another content under it is held, the old content put
# back is released again, a mate may come days later, and neither a restart nor a file that is
# taken away changes what the vault knows.
. "$(dirname "$0")/lib.sh"

settings settle_ms 100
start
drop_pair J4417 C 4417
becomes released J4417 C
good=$(pair_of J4417 C | jq -c .parts)

# The same revision with another feed in one channel.
cp "$programs/J4417-C.upper.nc" "$scratch/old"
sed 's/F0.2/F0.3/' "$scratch/old" >"$scratch/new"
mv "$scratch/new" "$programs/J4417-C.upper.nc"
becomes held J4417 C
expect 'why' 'refuse revision-reused' "$(findings_of J4417 C | grep refuse)"
expect_in 'why, in a sentence' 'released before with another program for upper' "$(pair_of J4417 C | jq -r .text)"

# Not even when it comes back under another file name or through the other channel.
sed 's/F0.2/F0.4/' "$programs/J4417-C.lower.nc" >"$scratch/new"
mv "$scratch/new" "$programs/j4417-c.LO.nc"
appears 'kind=arrived&job=J4417&after=7'
barrier
expect 'state' held "$(state_of J4417 C)"
expect_events 1 'kind=released&job=J4417'

# The old content is put back in both: released again, with the same programs.
cp "$programs/J4417-C.lower.nc" "$scratch/lower"
rm "$programs/j4417-c.LO.nc" "$programs/J4417-C.lower.nc"
cp "$scratch/old" "$programs/J4417-C.upper.nc"
barrier
expect 'state with one old program' held "$(state_of J4417 C)"
cp "$scratch/lower" "$programs/j4417-c.LO.nc"
becomes released J4417 C
expect 'the programs' "$good" "$(pair_of J4417 C | jq -c .parts)"

# A new revision is free to differ; the old one stays what it was.
for channel in upper lower; do
	sed 's/REV C/REV D/; s/F0.2/F0.5/' "$scratch/$([ $channel = upper ] && echo old || echo lower)" \
		>"$programs/J4417-D.$channel.nc"
done
becomes released J4417 D
expect 'revision C' released "$(state_of J4417 C)"

# The mate comes days later, after restarts. Meanwhile the single program is held.
program J4430 A upper 4430 201 202 >"$programs/J4430-A.upper.nc"
becomes held J4430 A
touch -d '-3 days' "$programs/J4430-A.upper.nc"
sound
stop
start
expect 'the single program after a restart' held "$(state_of J4430 A)"
program J4430 A lower 4430 201 202 >"$programs/J4430-A.lower.nc"
becomes released J4430 A

# A restart finds every file again and records nothing of it.
ln -s J4430-A.upper.nc "$programs/J4431-A.upper.nc"
appears kind=turned-away
barrier
events >"$scratch/before"
api /v1/jobs >"$scratch/jobs"
stop
start
within "$patience" idle || fail "the scan does not come to an end: $(api /v1/status)"
barrier
expect 'the trail before the restart' "$(cat "$scratch/before")" "$(events | head -n "$(wc -l <"$scratch/before")")"
expect 'what came after it' 'stopped started arrived held' \
	"$(events | tail -n +$(($(wc -l <"$scratch/before") + 1)) | jq -r .kind | tr '\n' ' ' | sed 's/ $//')"
of_the_shop='.jobs[] | select(.job | startswith("BARRIER") | not)'
expect 'the pairs' "$(jq -c "$of_the_shop" "$scratch/jobs")" "$(api /v1/jobs | jq -c "$of_the_shop")"

# The folder is emptied: the vault keeps programs, pairs and their bytes, and there is no event.
count=$(count_events)
rm -r "$programs"/*.nc "$programs/.yoke"
barrier
expect_events $((count + 2)) ''
expect 'the pair without files' released "$(state_of J4417 D)"
sha=$(pair_of J4417 C | jq -r '.parts[] | select(.channel == "upper") | .sha256')
api "/v1/programs/$sha" >"$scratch/kept"
cmp "$scratch/old" "$scratch/kept" || fail 'the bytes of a program whose file is gone'
# Dropped once more they are nothing new.
cp "$scratch/old" "$programs/J4417-C.upper.nc"
barrier
expect_events $((count + 4)) ''
sound
stop
