# Goal: the trail is sealed by itself, and what was sealed can be checked by others: with openssl, on another
# computer, with the public key alone. A trail that was cut short is found by its second place, one that was
# written anew by the key; troubles with the key or the second place are told, and stop no work.
. "$(dirname "$0")/lib.sh"

yoke=$build/cli/yoke
second=$scratch/second
y() {
	"$yoke" "$@" --home "$home"
}
field() { # JQ: of the status
	api /v1/status | jq -r "$1"
}
is() { # JQ WANTED
	[ "$(field "$1")" = "$2" ]
}
# status COMMAND...: its exit status; what it says goes to $scratch/said.
status() {
	"$@" >"$scratch/said" 2>&1 && echo 0 || echo $?
}
soon() { # WHAT JQ WANTED
	within "$patience" is "$2" "$3" || fail "$1: expected '$3', saw '$(field "$2")' in $(field .trail)"
}
all_sealed() {
	[ "$(field .trail.sealed)" = "$(events | tail -n 1 | jq .seq)" ]
}
all_copied() {
	all_sealed && [ "$(field .trail.copy.number)" = "$(field .trail.number)" ]
}
sealed_and_copied() {
	within "$patience" all_copied || fail "not everything is sealed and copied: $(field .trail)"
}
verify() { # WANTED_STATUS OPTION...
	verify_want=$1
	shift
	verify_status=0
	y audit verify "$@" >"$scratch/verdict" 2>&1 || verify_status=$?
	expect "status of audit verify $*: $(cat "$scratch/verdict")" "$verify_want" "$verify_status"
}
with() { # KEY VALUE...: settings of every start here
	settings settle_ms 100 checkpoint_events 1 "$@"
}

# A vault file takes the place of the one that is there, with everything beside it that would tell.
put_back() {
	rm -f "$home/vault/yoke.db"-* "$home/vault/yoke.db.end"
	cp "$1" "$home/vault/yoke.db"
}

# --- The first start makes a key and signs ---

with checkpoint_to "file:$second"
start
sealed_and_copied
expect 'mode of the key' 600 "$(stat -c %a "$home/seal.key")"
expect 'events keyed' 1 "$(count_events kind=keyed)"
drop_pair J4417 C 4417
becomes released J4417 C
sealed_and_copied
y keys >"$scratch/keys"
key=$(awk 'NR == 1 { print $1 }' "$scratch/keys")
verify 0
expect_in 'what verify says' 'sealed: entries 1 to' "$(cat "$scratch/verdict")"
verify 0 --against "$second" --key "$key"
expect_in 'what the second place says' 'seals entries 1 to' "$(tail -n 1 "$scratch/verdict")"
verify 0 --against "$second" --key "$scratch/keys"

# --- Others check the same: sha256sum the key's id, openssl the signature ---

name=${key%%+*}
rest=${key#*+}
printf %s "${rest#*+}" | base64 -d | tail -c 32 >"$scratch/public"
id=$({ printf '%s\n\001' "$name"; cat "$scratch/public"; } | sha256sum | cut -c 1-8)
expect 'the id of the key, by sha256sum' "$id" "${rest%%+*}"
{ printf '\060\052\060\005\006\003\053\145\160\003\041\000'; cat "$scratch/public"; } >"$scratch/public.der" # RFC 8410, 4
openssl pkey -pubin -inform DER -in "$scratch/public.der" -out "$scratch/public.pem"
checked=0
# Each note: five lines, an empty one, its signature, an empty one.
total=$(wc -l <"$second")
while [ $((checked * 8)) -lt "$total" ]; do
	tail -n +$((checked * 8 + 1)) "$second" | head -n 5 >"$scratch/note"
	tail -n +$((checked * 8 + 7)) "$second" | head -n 1 | cut -d ' ' -f 3 | base64 -d | tail -c 64 >"$scratch/signature"
	openssl pkeyutl -verify -pubin -inkey "$scratch/public.pem" -rawin -in "$scratch/note" -sigfile "$scratch/signature" \
		>/dev/null || fail "openssl does not take the signature of checkpoint $((checked + 1))"
	checked=$((checked + 1))
done
[ "$checked" -ge 2 ] || fail "only $checked checkpoints are in the second place"
sed -i '2s/.*/999/' "$scratch/note"
! openssl pkeyutl -verify -pubin -inkey "$scratch/public.pem" -rawin -in "$scratch/note" -sigfile "$scratch/signature" \
	>/dev/null 2>&1 || fail 'openssl takes any signature'

# --- A proof for somebody who has the key alone ---

released=$(events kind=released | jq .seq)
y audit prove "$released" --out "$scratch/proof"
expect 'a proof over an old one' 2 "$(status y audit prove "$released" --out "$scratch/proof")"
expect 'the proof of what is not there' 1 "$(status y audit prove 9999)"
check_proof() {
	YOKE_HOME=/nowhere "$yoke" audit check-proof "$@"
}
check_proof "$scratch/proof" --key "$key" >"$scratch/said" || fail "a good proof: $(cat "$scratch/said")"
expect_in 'what a proof says' "good: entry $released is in the trail $name" "$(cat "$scratch/said")"
expect_in 'what a proof says' 'job       J4417' "$(cat "$scratch/said")"
check_proof - --key "$scratch/keys" <"$scratch/proof" >/dev/null || fail 'a proof from the standard input'
sed 's/^number .*/number 1/' "$scratch/proof" >"$scratch/bent"
expect 'a proof that was changed' 1 "$(status check_proof "$scratch/bent" --key "$key")"
expect_in 'a proof that was changed' 'NOT GOOD' "$(cat "$scratch/said")"
other=yoke/21fe31dfa154a261+181ad7d8+AddamAGCsQq31Uv+08lkBzoO4XLz2qYjJa8CGmj3B1Ea # RFC 8032, 7.1, test 1
expect 'a proof with another key' 1 "$(status check_proof "$scratch/proof" --key "$other")"
expect 'a proof with no key' 2 "$(status check_proof "$scratch/proof" --key nonsense)"
verify 1 --key "$other"
expect_in 'the key of somebody else' 'never signed with the key that you gave' "$(cat "$scratch/verdict")"

# --- The trail is put back to what it was yesterday ---

stop
cp "$home/vault/yoke.db" "$scratch/yesterday"
start
before=$(events | tail -n 1 | jq .seq)
drop_pair J4418 A 4418
becomes released J4418 A
sealed_and_copied
stop
cp "$home/vault/yoke.db" "$scratch/today"
put_back "$scratch/yesterday"
with
start
verify 0 # by itself it fits: it once was so
verify 1 --against "$second"
expect_in 'a trail that was put back' 'NOT GOOD: entry' "$(tail -n 1 "$scratch/verdict")"
expect_in 'a trail that was put back' "in $second sealed" "$(tail -n 1 "$scratch/verdict")"
stop
put_back "$scratch/yesterday"
sealed=$(sqlite3 "$scratch/yesterday" 'SELECT seq FROM trail')
[ "$before" -gt "$sealed" ] || fail 'the day has no entries'

# The same, but the checkpoints of today are left in it. That nothing is sealed is told once: each entry of it made
# the reason another one, and each of these an entry.
sqlite3 "$home/vault/yoke.db" "ATTACH '$scratch/today' AS today;
	INSERT INTO checkpoint SELECT * FROM today.checkpoint WHERE n > (SELECT max(n) FROM checkpoint)"
start
soon 'the seal of a trail that was cut' '.trail.error // "" | test("was cut short or put back")' true
verify 1
expect_in 'a trail that was cut' "NOT GOOD: entry $((sealed + 1)) is the first that does not fit" "$(cat "$scratch/verdict")"
sleep 5
expect 'how often it is told' 1 "$(count_events kind=sealing)"
stop

# --- Somebody writes all of it anew, with a key of his own ---

mv "$home" "$scratch/true"
mkdir "$home"
with
start
drop_pair J4417 C 4417
becomes released J4417 C
within "$patience" all_sealed
stop
mv "$home/vault" "$scratch/forged"
rm -r "$home"
mv "$scratch/true" "$home"
mv "$home/vault" "$scratch/true-vault"
cp -r "$scratch/forged" "$home/vault"
start
soon 'the key of a forged vault' '.trail.error // "" | test("not the one that the trail names")' true
verify 1 --against "$second"
expect_in 'a forged vault' 'no checkpoint of this trail' "$(cat "$scratch/verdict")"
verify 1 --against "$second" --key "$key"
expect_in 'a forged vault' 'entry 1 is the first that does not fit' "$(cat "$scratch/verdict")"
stop

# He leaves the true checkpoints, and changes one name by a database tool, with chain, state and tree that fit:
# yoked itself makes state and tree of an older layout anew.
rm -r "$home/vault"
mv "$scratch/true-vault" "$home/vault"
put_back "$scratch/today"
rewrite=$(dirname "$0")/trail_rewrite.py
if command -v python3 >/dev/null; then
	python3 "$rewrite" "$home/vault/yoke.db" "$released"
	start
	verify 1
	expect_in 'a trail that was rewritten' 'are not those that checkpoint' "$(cat "$scratch/verdict")"
	soon 'the seal of a trail that was rewritten' '.trail.error // "" | test("no longer what checkpoint")' true
	[ "$(count_events kind=sealing)" -ge 1 ] || fail 'that nothing is sealed is no event'
	stop
fi
put_back "$scratch/today"

# --- Who may: everybody proves, the service's own user alone changes the key ---

with checkpoint_to "file:$second"
start
sealed_and_copied
verify 0 --against "$second"
if [ "$(id -u)" = 0 ] && command -v setpriv >/dev/null; then
	chmod 755 "$scratch" "$home"
	chmod 666 "$home/yoke.sock"
	as() {
		setpriv --reuid 4711 --regid 4711 --clear-groups "$yoke" "$@" --home "$home"
	}
	as audit verify >/dev/null || fail 'somebody verifies'
	as audit prove "$released" >/dev/null || fail 'somebody proves'
	as keys >/dev/null || fail 'somebody lists the keys'
	expect 'somebody changes the key' 1 "$(status as keys rotate)"
	expect_in 'somebody changes the key' "only the service's own user and root" "$(cat "$scratch/said")"
	expect 'the refusal' 1 "$(events kind=refused | jq -c 'select(.outcome == "owner")' | wc -l)"
fi
cp "$home/seal.key" "$scratch/old.key"
y keys rotate >"$scratch/keys"
expect 'keys' 2 "$(grep -c '^yoke/' "$scratch/keys")"
expect 'mode of the new key' 600 "$(stat -c %a "$home/seal.key")"
[ "$(sum "$home/seal.key")" != "$(sum "$scratch/old.key")" ] || fail 'the key is the old one'
drop_pair J4419 A 4419
becomes released J4419 A
sealed_and_copied
verify 0 --against "$second" --key "$scratch/keys"
verify 1 --against "$second" --key "$key" # what the new key signed is not to be trusted by the old one alone
check_proof "$scratch/proof" --key "$key" >/dev/null || fail 'a proof from before'
y audit prove "$released" >"$scratch/proof2"
check_proof "$scratch/proof2" --key "$(awk 'NR == 2 { print $1 }' "$scratch/keys")" >/dev/null || fail 'a proof by the new key'
expect 'lost, and there' 1 "$(status y keys rotate --lost)"

# The power went between the event and the file: the start puts the new key into its place.
stop
mv "$home/seal.key" "$home/seal.key.new"
cp -p "$scratch/old.key" "$home/seal.key"
start
sealed_and_copied
[ ! -e "$home/seal.key.new" ] || fail 'the new key did not take its place'

# --- Troubles with the key: told, and work goes on; once it is there again, the trail is sealed ---

trouble() { # WHAT PART
	start
	soon "$1" ".trail.error // \"\" | test(\"$2\")" true
	expect_in "$1" 'NOT SEALED' "$(y status)"
	drop_pair "$3" A "$4"
	becomes released "$3" A
	has_event 'kind=sealing' || fail "$1: no event"
	verify 0
}
mended() {
	within "$patience" all_sealed || fail "$1: not sealed again: $(field .trail)"
	expect "$1" null "$(field .trail.error)"
	verify 0
	stop
}
stop
mv "$home/seal.key" "$scratch/key"
trouble 'no key' 'No such file' J4501 4501
expect 'a new key without the old one' 1 "$(status y keys rotate)"
cp -p "$scratch/key" "$home/seal.key"
mended 'a key that came back'
chmod 644 "$home/seal.key"
trouble 'a key that others read' 'is not ours alone' J4502 4502
chmod 600 "$home/seal.key"
mended 'a key that is ours again'
echo 'no key' >"$home/seal.key"
trouble 'a key that is none' 'is no Ed25519 key' J4503 4503
cp -p "$scratch/key" "$home/seal.key"
mended 'a key that is one again'
rm "$home/seal.key"
ln -s "$scratch/key" "$home/seal.key"
trouble 'a key that is a link' 'cannot be read' J4504 4504
rm "$home/seal.key"
y keys rotate --lost >"$scratch/keys" || fail 'a new key for a lost one'
mended 'a new key for a lost one'
start
verify 0
expect_in 'a key without the one before' 'changed the key without a signature of the key before' "$(cat "$scratch/verdict")"
stop

# --- A key that the administrator hands over as a credential ---

mv "$home/vault" "$scratch/vault-before"
rm "$home/seal.key"
CREDENTIALS_DIRECTORY=$scratch/credentials
export CREDENTIALS_DIRECTORY
mkdir "$CREDENTIALS_DIRECTORY"
with seal_key credential:seal
start
soon 'a credential that is not there' '.trail.error // "" | test("credentials/seal cannot be read")' true
openssl genpkey -algorithm ed25519 -out "$CREDENTIALS_DIRECTORY/seal"
within "$patience" all_sealed || fail "a credential that came: $(field .trail)"
openssl pkey -in "$CREDENTIALS_DIRECTORY/seal" -pubout -outform DER | tail -c 32 >"$scratch/public"
expect 'the public half, by openssl' "$({ printf '\001'; cat "$scratch/public"; } | base64 -w 0)" \
	"$(y keys | awk 'NR == 1 { print $1 }' | cut -d + -f 3-)"
[ ! -e "$home/seal.key" ] || fail 'a key was made beside the credential'
expect 'a change without another credential' 1 "$(status y keys rotate)"
expect_in 'a change without another credential' 'still holds the key in force' "$(cat "$scratch/said")"
stop
mv "$CREDENTIALS_DIRECTORY/seal" "$CREDENTIALS_DIRECTORY/seal.old"
openssl genpkey -algorithm ed25519 -out "$CREDENTIALS_DIRECTORY/seal"
start
soon 'another credential' '.trail.error // "" | test("not the one that the trail names")' true
expect 'a change to another credential' 0 "$(status y keys rotate)"
within "$patience" all_sealed || fail "another credential: $(field .trail)"
verify 0
expect 'a change with the old credential' '' "$(grep 'without a signature of the key before' "$scratch/verdict" || true)"
stop
unset CREDENTIALS_DIRECTORY
rm -r "$home/vault"
mv "$scratch/vault-before" "$home/vault"

# --- When it is sealed: by number, by time, at start and stop ---

settings settle_ms 100 checkpoint_events 100000 checkpoint_s 86400
rm -rf "$home/vault"
start
sealed=$(field .trail.sealed)
drop_pair J4701 A 4701
becomes released J4701 A
sleep 2
expect 'sealed while nothing asks for it' "$sealed" "$(field .trail.sealed)"
last=$(events | tail -n 1 | jq .seq)
stop
start
expect 'entries of the stop that are sealed' 1 "$([ "$(field .trail.sealed)" -gt $((last + 1)) ] && echo 1)"
stop
settings settle_ms 100 checkpoint_events 100000 checkpoint_s 1
start
drop_pair J4702 A 4702
becomes released J4702 A
within "$patience" all_sealed || fail "not sealed after checkpoint_s: $(field .trail)"
stop
rm -rf "$home/vault"

# --- Troubles with the second place ---

mkdir "$scratch/mount"
with checkpoint_to "file:$scratch/mount/trail"
start
sealed_and_copied
mv "$scratch/mount/trail" "$scratch/trail" # as when it is not mounted
y audit prove 1 >/dev/null
drop_pair J4601 A 4601
becomes released J4601 A
soon 'a second place that is gone' '.trail.copy.error // "" | test("the file is gone")' true
expect_in 'a second place that is gone' 'NOT COPIED' "$(y status)"
expect 'the event of it' 1 "$(events kind=sealing | jq -c 'select(.outcome == "copy-failed")' | wc -l)"
[ ! -e "$scratch/mount/trail" ] || fail 'a file was begun below the mount point'
stop
mv "$scratch/trail" "$scratch/mount/trail"
printf 'cut off in the midd' >>"$scratch/mount/trail"
start
sealed_and_copied
verify 0 --against "$scratch/mount/trail"
expect 'checkpoints in the second place' "$(field .trail.number)" "$(grep -c '^number ' "$scratch/mount/trail")"
stop
