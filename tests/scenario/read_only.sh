# Goal: a vault that cannot be written is not served as if it could; one that becomes so while it is
# served is read on and refuses in words what it cannot record; after a start with a vault that can be
# written nothing is missing.
# A watched folder that cannot be written is no hindrance: programs are judged all the same.
. "$(dirname "$0")/lib.sh"
mount -t tmpfs -o size=64m yoke "$home" 2>/dev/null || skip 'a file system cannot be mounted'
mounted=$home
programs=$scratch/programs
mkdir -p "$programs" "$home/machines" "$home/vault" "$scratch/share"
settings settle_ms 100 programs "$programs"
printf '[line]\nkind = directory\nroot = %s\n' "$scratch/share" >"$home/machines/M.conf"

# From the start.
start
drop_pair J4417 C 4417
becomes released J4417 C
stop
was=$(sum "$home/vault/yoke.db")
mount -o remount,ro "$home"
refuses_to_start
expect_in 'a start on a read-only file system' "$home/vault/yoke.db" "$said"
expect_in 'a start on a read-only file system' 'Read-only file system' "$said"
"$yoked" --home "$home" --check-config >/dev/null 2>&1 || fail 'the check of a configuration writes'
mount -o remount,rw "$home"
expect 'the vault' "$was" "$(sum "$home/vault/yoke.db")"
if chattr +i "$home/vault/yoke.db" 2>/dev/null; then
	refuses_to_start
	expect_in 'a start with a file that cannot be changed' "$home/vault/yoke.db" "$said"
	chattr -i "$home/vault/yoke.db"
fi

# While it is served: the kernel takes writing away after an error of the disk, as ext4 does with
# errors=remount-ro.
image=$scratch/disk
truncate -s 40M "$image"
mv "$home/vault" "$scratch/vault"
mkdir "$home/vault"
if mkfs.ext4 -q "$image" 2>/dev/null && mount -o loop,errors=remount-ro "$image" "$home/vault" 2>/dev/null; then
	mounted="$home/vault $home"
	cp -a "$scratch/vault/." "$home/vault/"
	start
	before=$(events)
	disk=/sys/fs/ext4/$(basename "$(findmnt -no SOURCE "$home/vault")")
	echo 1 >"$disk/trigger_fs_error"
	drop_pair J4418 C 4418
	expect 'locking' 500 "$(ask POST /v1/machines/M/lock)"
	expect_in 'locking' "$home/vault/yoke.db" "$(jq -r .text "$answer")"
	expect_in 'locking' 'nothing was recorded' "$(jq -r .text "$answer")"
	expect 'a pair from before' released "$(state_of J4417 C)"
	sha=$(pair_of J4417 C | jq -r '.parts[0].sha256')
	expect 'its bytes' "$sha" "$(api "/v1/programs/$sha" | sha256sum | cut -d ' ' -f 1)"
	expect 'a pair that came too late' 404 "$(ask GET /v1/jobs/J4418)"
	expect 'the trail' "$before" "$(events)"
	kill -TERM "$pid"
	within "$patience" gone || fail 'yoked does not end after SIGTERM'
	wait "$pid" || true
	pid=
	clean_log
	umount "$home/vault"
	mount -o loop "$image" "$home/vault"
	start
	becomes released J4418 C
	sound
	stop
	umount "$home/vault"
	mounted=$home
else
	echo 'not tested: a vault that becomes read-only while it is served (no loop device, or no ext4)'
fi
rmdir "$home/vault"
mv "$scratch/vault" "$home/vault"

# The folder with the programs is on a read-only share.
mkdir "$scratch/share-ro"
mount -t tmpfs -o size=8m yoke "$scratch/share-ro"
mounted="$scratch/share-ro $mounted"
programs=$scratch/share-ro
drop_pair J4420 C 4420
mount -o remount,ro "$programs"
settings settle_ms 100 programs "$programs"
start
becomes released J4420 C
grep -q 'verdicts cannot be written into' "$log" || fail 'that verdicts cannot be written is not told'
expect 'how often it is told' 1 "$(grep -c 'verdicts cannot be written into' "$log")"
sound
stop

# The folder is not there at all: offline, not empty. It comes, goes and comes back without a
# restart, and nothing is deleted meanwhile.
settings settle_ms 100 programs "$scratch/away" poll_ms 100
start
is_offline() {
	[ "$(api /v1/status | jq .folder.offline)" = "$1" ]
}
within "$patience" is_offline true || fail "a folder that is not there: $(api /v1/status)"
mkdir "$scratch/away"
within "$patience" is_offline false || fail "a folder that came: $(api /v1/status)"
programs=$scratch/away
drop_pair J4421 C 4421
becomes released J4421 C
before=$(events)
mv "$programs" "$scratch/elsewhere"
within "$patience" is_offline true || fail "a folder that went away: $(api /v1/status)"
expect 'a pair while the folder is away' released "$(state_of J4421 C)"
mv "$scratch/elsewhere" "$programs"
within "$patience" is_offline false || fail "a folder that came back: $(api /v1/status)"
barrier
within "$patience" idle
expect 'the trail, but for the barrier' "$before" "$(events | head -n -2)"
sound
stop
