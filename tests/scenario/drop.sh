# Goal: a good pair that is dropped is released, with its verdict where the programmer looks, its
# bytes in the vault as they came, and events that say who dropped it; the files stay as they were.
. "$(dirname "$0")/lib.sh"
[ "$(id -u)" = 0 ] || skip 'the files must belong to another user: run as root'

start
program J4417 C upper 4417 201 202 203 >"$scratch/upper"
printf '%%\r\nO4417 (JOB J4417 REV C LOWER)\r\n/M1\r\nM201\r\n\r\nM202\r\nM203\r\nM30\r\n%%' >"$scratch/lower"
for channel in upper lower; do
	chown 4711 "$scratch/$channel"
	chmod 640 "$scratch/$channel"
	mv "$scratch/$channel" "$programs/J4417-C.$channel.nc"
done
stat -c '%n %s %y %z %u %g %a %i' "$programs"/*.nc >"$scratch/before"
becomes released J4417 C

# who: the files' owner, who has no name here, and never the caller's word
expect 'who released it' 'uid 4711, no such user' "$(pair_of J4417 C | jq -r .by)"
expect 'kinds and makers of the events' "arrived uid 4711, no such user folder
held uid 4711, no such user folder
arrived uid 4711, no such user folder
released uid 4711, no such user folder" \
	"$(events job=J4417 | jq -r '.kind + " " + .who + " " + .from')"
expect 'why it was held meanwhile' 'refuse mate-missing' \
	"$(events 'job=J4417&kind=held' | jq -r '.detail.findings[] | select(.weight == "refuse") | .weight + " " + .name')"
expect_in 'wait codes' agree "$(pair_of J4417 C | jq -r .verdict)"

# the bytes: SHA-256 and comparison by coreutils
for channel in upper lower; do
	file=$programs/J4417-C.$channel.nc
	sha=$(pair_of J4417 C | jq -r --arg c $channel '.parts[] | select(.channel == $c) | .sha256')
	expect "SHA-256 of $channel" "$(sum "$file")" "$sha"
	api "/v1/programs/$sha" >"$scratch/kept"
	cmp "$file" "$scratch/kept" || fail "the vault's bytes of $channel are not the file's"
done
expect 'the dropped files' "$(cat "$scratch/before")" "$(stat -c '%n %s %y %z %u %g %a %i' "$programs"/*.nc)"

# the verdict beside the programs, for people and for programs
within "$patience" grep -q 'job J4417 revision C: released' "$programs/.yoke/J4417-C.txt" ||
	fail "no verdict in .yoke: $(ls -la "$programs/.yoke" 2>&1)"
expect_in 'verdict for a person' 'tools cannot meet' "$(cat "$programs/.yoke/J4417-C.txt")"
expect 'verdict for a program' agree "$(jq -r .verdict "$programs/.yoke/J4417-C.json")"
expect 'files in .yoke' 'J4417-C.json J4417-C.txt' \
	"$(find "$programs/.yoke" -type f -printf '%f\n' | sort | tr '\n' ' ' | sed 's/ $//')"

# the verdict files are no programs: nothing of them arrives
barrier
expect_events 2 'kind=arrived&job=J4417'
expect_events 3 kind=arrived
sound
stop
