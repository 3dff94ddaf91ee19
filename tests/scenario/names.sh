# Goal: whatever lies in the watched folder, and whatever it is called, is taken as a program, turned
# away in words, or ignored; nothing outside the folder is read, and nothing stops the rest.
. "$(dirname "$0")/lib.sh"

turned_away() { # OUTCOME TEXT
	events kind=turned-away | jq -r '.outcome + "|" + .text' >"$scratch/away"
	grep -F "$1|" "$scratch/away" | grep -qF "$2"
}

is_turned_away() {
	within "$patience" turned_away "$1" "$2" || fail "no turned-away event '$1' about '$2': $(cat "$scratch/away")"
}

# An empty folder first.
settings settle_ms 100 incomplete_s 1
start
within "$patience" idle
expect 'pairs of an empty folder' 0 "$(api /v1/jobs | jq '.jobs | length')"
expect 'files of an empty folder' 0 "$(api /v1/status | jq .folder.files)"

# A folder with the name of a program, and a program in it.
mkdir -p "$programs/J4401-A.upper.nc"
drop_pair J4402 A 4402 J4401-A.upper.nc
becomes released J4402 A

# Links: out of the folder, to a folder outside, in a circle, to nothing.
mkdir "$scratch/outside"
program J4403 A upper 4403 201 >"$scratch/outside/J4403-A.upper.nc"
ln -s "$scratch/outside/J4403-A.upper.nc" "$programs/J4403-A.upper.nc"
ln -s "$scratch/outside" "$programs/deeper"
ln -s . "$programs/circle"
ln -s nowhere "$programs/J4404-A.upper.nc"
for link in J4403-A.upper.nc deeper circle J4404-A.upper.nc; do
	is_turned_away link "$link: is a symbolic link"
done

# Dots: two inside a name are only a name.
program A..B A upper 4405 201 >"$programs/a..b-A.upper.nc"
becomes held A..B A
program J4406 .. lower 4406 201 >"$programs/J4406-...lower.nc"
appears 'kind=arrived&after=0'
barrier

# Control characters and bytes that are no UTF-8 in a name.
tab=$(printf 'J4407\tA.upper.nc') line=$(printf 'J4407\nB.upper.nc') escape=$(printf 'J4407\033[2J.nc')
latin=$(printf 'J4408-\344.upper.nc') surrogate=$(printf 'J4408-\355\240\200.nc')
for name in "$tab" "$line" "$escape" "$latin" "$surrogate"; do
	program J4407 A upper 4407 201 >"$programs/$name"
done
is_turned_away control-characters 'J4407\x09A.upper.nc'
is_turned_away control-characters 'J4407\x0AB.upper.nc'
is_turned_away control-characters 'J4407\x1B[2J.nc'
is_turned_away not-utf-8 'J4408-\xE4.upper.nc'
is_turned_away not-utf-8 'J4408-\xED\xA0\x80.nc'
expect 'control characters in the trail' 0 \
	"$(api '/v1/audit?limit=100000' | tr -d '\n' | grep -c "$(printf '[\001-\037]')" || true)"
# UTF-8 is a name like any other, though no job's.
program J4409 A upper 4409 201 >"$programs/Lager f$(printf '\303\274')r J4409.nc"
becomes held J4409 A

# A pipe, a socket, a device: not opened, or yoked would wait for a writer.
mkfifo "$programs/J4410-A.upper.nc"
mknod "$programs/J4410-A.lower.nc" c 1 5 2>/dev/null || mkfifo "$programs/J4410-A.lower.nc"
is_turned_away not-a-file 'J4410-A.upper.nc: is a pipe'
is_turned_away not-a-file 'J4410-A.lower.nc: is a pipe'

# More folders than are entered, a name as long as a file system takes, nothing at all in a file.
deep=$programs
i=0
while [ $i -lt 34 ]; do
	deep=$deep/d
	i=$((i + 1))
done
mkdir -p "$deep"
is_turned_away too-deep 'd/d/d'
long=$(printf '%0200d' 7)
program J4411 A upper 4411 201 >"$programs/J4411-A.$long.nc"
becomes held J4411 A
: >"$programs/J4412-A.upper.nc"
becomes held J4412 A
expect_in 'an empty file' 'refuse empty' "$(findings_of J4412 A)"
head -c 100000 /dev/urandom >"$programs/J4413-A.upper.nc"
head -c 100000 /dev/zero >"$programs/J4414-A.upper.nc"
printf '%%' >"$programs/J4415-A.upper.nc"
for job in J4413 J4414 J4415; do
	appears "kind=arrived&after=0&job=$job"
	becomes held $job A
done

# A job whose name does harm as a path does none: the verdict stays in .yoke.
printf '%%\nO4416 (JOB ../../../J4416 REV A UPPER)\nM30\n%%\n' >"$programs/J4416-A.upper.nc"
printf '%%\nO4416 (JOB J4416 REV ../A LOWER)\nM30\n%%\n' >"$programs/nameless"
barrier
expect 'files beside the folder' "$(printf 'machines\nprograms\nseal.key\nvault\nyoke.conf\nyoke.sock')" "$(ls -A "$home")"
[ ! -e "$scratch/J4416-A.txt" ] || fail 'a verdict outside of .yoke'

# After all that a good pair goes on as ever.
drop_pair J4417 C 4417
becomes released J4417 C
expect_events 0 'job=J4403'
sound
stop
