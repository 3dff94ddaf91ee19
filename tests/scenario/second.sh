# Goal: one home has one service. A second one refuses in words and disturbs nothing; what a killed
# one leaves behind does not keep the next from starting; what is no socket is not removed.
. "$(dirname "$0")/lib.sh"

start
drop_pair J4417 C 4417
becomes released J4417 C
before=$(events)

refuses_to_start
expect 'status of the second' 1 "$status_of"
expect_in 'the second' 'another yoked has it open' "$said"
# Nor through another name of the home, nor with a vault of its own behind the same socket.
ln -s "$home" "$scratch/alias"
status=0
timeout "$patience" "$yoked" --home "$scratch/alias" >"$scratch/said" 2>&1 || status=$?
expect 'status through another name' 1 "$status"
mkdir "$scratch/other"
printf '[yoke]\nsocket = %s\n' "$home/yoke.sock" >"$scratch/other/yoke.conf"
status=0
timeout "$patience" "$yoked" --home "$scratch/other" >"$scratch/said" 2>&1 || status=$?
expect 'status with the same socket' 1 "$status"
expect_in 'the same socket' 'another service listens' "$(cat "$scratch/said")"
expect 'the trail of the first' "$before" "$(events)"

# Several at the same moment: one of them at most serves.
stop
racers=
i=0
while [ $i -lt 4 ]; do
	timeout "$patience" "$yoked" --home "$home" >"$scratch/racer$i" 2>&1 &
	racers="$racers $!"
	i=$((i + 1))
done
ready() {
	cat "$scratch"/racer? | grep -c 'yoked: ready' | grep -qx "$1"
}
refused() {
	cat "$scratch"/racer? | grep -c 'another yoked has it open' | grep -qx "$1"
}
within "$patience" ready 1 || fail "one should be ready: $(cat "$scratch"/racer?)"
within "$patience" refused 3 || fail "three should refuse: $(cat "$scratch"/racer?)"
expect 'status' 200 "$(ask GET /v1/status)"
# timeout hands the signal on to its yoked.
for racer in $racers; do kill "$racer" 2>/dev/null || true; done
for racer in $racers; do wait "$racer" || true; done
expect 'what the race left in the trail' 'stopped started' "$(sqlite3 -readonly "$home/vault/yoke.db" \
	'SELECT kind FROM event ORDER BY seq DESC LIMIT 2' | tr '\n' ' ' | sed 's/ $//')"

# A killed one leaves its socket behind.
start
crash
[ -S "$home/yoke.sock" ] || fail 'the killed service should leave its socket'
start
expect 'the pair' released "$(state_of J4417 C)"
stop
[ ! -e "$home/yoke.sock" ] || fail 'the socket is there after an orderly end'

# A file or a folder in place of the socket is somebody's: not removed.
echo mine >"$home/yoke.sock"
refuses_to_start
expect_in 'a file in place of the socket' 'is no socket' "$said"
expect 'the file' mine "$(cat "$home/yoke.sock")"
rm "$home/yoke.sock"
mkdir "$home/yoke.sock"
refuses_to_start
expect_in 'a folder in place of the socket' 'is no socket' "$said"
rmdir "$home/yoke.sock"

# A socket path that is too long for a socket, one whose folder is not there.
settings socket "$(printf '%0120d' 7)"
refuses_to_start
expect_in 'a socket path that is too long' 'at most 107' "$said"
settings socket nowhere/yoke.sock
refuses_to_start
expect_in 'a socket in no folder' 'No such file' "$said"

# A vault that is none, or of a later version, or is a folder, is left as it is.
settings settle_ms 100
cp "$home/vault/yoke.db" "$scratch/good.db"
for bad in noise empty later folder; do
	rm -rf "$home/vault"
	mkdir "$home/vault"
	case $bad in
	noise) head -c 100000 /dev/urandom >"$home/vault/yoke.db" ;;
	empty) sqlite3 "$home/vault/yoke.db" 'CREATE TABLE x(y)' ;;
	later) cp "$scratch/good.db" "$home/vault/yoke.db" && sqlite3 "$home/vault/yoke.db" 'PRAGMA user_version=999' ;;
	folder) mkdir "$home/vault/yoke.db" ;;
	esac
	[ $bad = folder ] || was=$(sum "$home/vault/yoke.db")
	refuses_to_start
	expect_in "a vault that is $bad" "vault $home/vault/yoke.db: " "$said"
	[ $bad = folder ] || expect "the vault that is $bad" "$was" "$(sum "$home/vault/yoke.db")"
done
