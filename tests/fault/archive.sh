# Goal: a copy of the trail and its programs in one file says all of it and proves itself: by the command
# without a service, and by a reader of the documented form that shares no code with it (Python's json,
# hashlib and base64; the tree after RFC 9162 section 2.1). Whatever is changed, cut, left out, put in
# another order or added is found, each for itself; and the vault has all that it had.
. "$(dirname "$0")/shop.sh"
settings settle_ms 100 incomplete_s 2
share LATHE1
tomorrow=$(date -d tomorrow +%Y-%m-%d)
start
yoke archive --before 2001 "$scratch/old" 2>"$scratch/said" && fail 'an archive of nothing'
expect_in 'an archive of nothing' 'no entry is that old' "$(cat "$scratch/said")"
[ ! -e "$scratch/old" ] || fail 'a file was left of nothing'
drop_pair J4417 C 4417
becomes released J4417 C
carried J4417 C LATHE1
yoke prove LATHE1 --note 'first "part" <good>' >/dev/null || fail 'yoke prove'
printf 'O1 (x \377\033)\n' >"$programs/strange.nc" # not UTF-8, no end
drop_pair J4418 A 4418
becomes released J4418 A

yoke archive --before "$tomorrow" "$scratch/a" >"$scratch/said" || fail "yoke archive: $(cat "$scratch/said")"
expect_in 'yoke archive' 'good: entries 1 to ' "$(cat "$scratch/said")"
yoke archive --before "$tomorrow" "$scratch/a" 2>"$scratch/said" && fail 'an archive was overwritten'
expect_in 'an archive that is there' 'nothing is overwritten' "$(cat "$scratch/said")"
yoke keys >"$scratch/keys"
newest=$(events | tail -n 1 | jq -r .hash)
events >"$scratch/events"
upper=$(sum "$programs/J4417-C.upper.nc")
sound
stop

# Nobody answers any more. The archive's own reader, and one of another make.
check() { # FILE [OPTION...]
	check_file=$1
	shift
	yoke audit check-archive "$check_file" --key "$scratch/keys" "$@" --home "$scratch/nowhere"
}
check "$scratch/a" >"$scratch/said" || fail "check-archive: $(cat "$scratch/said")"
entries=$(sed -n 's/^good: entries 1 to \([0-9]*\) .*/\1/p' "$scratch/said")
check "$scratch/a" --json 2>/dev/null | jq -cS . >"$scratch/archived"
head -n "$entries" "$scratch/events" | jq -cS . | cmp - "$scratch/archived" || fail 'the entries of the archive are not those of the API'
grep -qF "$newest" "$scratch/archived" || fail 'the newest entry is not in the archive'
check "$scratch/a" --program "$upper" 2>/dev/null | cmp - "$programs/J4417-C.upper.nc" || fail 'the program of the archive is another'
check "$scratch/a" --program "$upper" --out "$scratch/p" 2>/dev/null || fail 'no program came out'
cmp "$scratch/p" "$programs/J4417-C.upper.nc" || fail 'another program came out'
check "$scratch/a" --program "$newest" 2>/dev/null && fail 'a program that is not in it'

cat >"$scratch/read.py" <<'END'
import base64, hashlib, json, sys

def tree(leaves):  # RFC 9162 section 2.1.1
    if len(leaves) == 1:
        return hashlib.sha256(b"\0" + leaves[0]).digest()
    k = 1
    while k * 2 < len(leaves):
        k *= 2
    return hashlib.sha256(b"\1" + tree(leaves[:k]) + tree(leaves[k:])).digest()

with open(sys.argv[1], "rb") as f:
    head = json.loads(f.readline())
    leaves, named, held, before = [], set(), {}, bytes(32)
    while True:
        o = json.loads(f.readline())
        if "event" not in o:
            break
        leaf = base64.b64decode(o["leaf"], validate=True)
        assert leaf[:32] == before and o["event"]["seq"] == len(leaves) + 1
        before = hashlib.sha256(leaf).digest()
        assert o["event"]["hash"] == before.hex()
        for part in o["event"].get("parts", []):
            named |= {part[k] for k in ("before", "after") if k in part}
        leaves.append(leaf)
    note = o["checkpoint"].split("\n")
    assert int(note[1]) == len(leaves) == head["entries"]
    assert base64.b64decode(note[2]) == tree(leaves), "another root"
    while True:
        o = json.loads(f.readline())
        if "end" in o:
            break
        if o.get("missing"):
            held[o["program"]] = None
            continue
        held[o["program"]] = f.read(o["size"])
        assert f.read(1) == b"\n"
        assert hashlib.sha256(held[o["program"]]).hexdigest() == o["program"]
    assert f.read() == b"" and set(held) == named
    print(len(leaves), sum(v is not None for v in held.values()))
END
expect 'what the other reader counts' "$entries $(sed -n 's/^\([0-9]*\) programs.*/\1/p' "$scratch/said")" \
	"$(python3 "$scratch/read.py" "$scratch/a")"

# --- Everything that can be done to the file ---
spoil() { # WHAT SAID: the spoilt copy is in $scratch/b
	cmp -s "$scratch/a" "$scratch/b" && fail "$1: nothing was changed"
	check "$scratch/b" >"$scratch/said" 2>&1 && fail "$1: taken for good"
	expect_in "$1" "NOT GOOD: $scratch/b: line " "$(cat "$scratch/said")"
	expect_in "$1" "$2" "$(cat "$scratch/said")"
}
change() { # PYTHON: with the lines of bytes as list l
	python3 -c "
import json, base64, sys
l = open('$scratch/a', 'rb').read().split(b'\n')
c = next(i for i, s in enumerate(l) if s.startswith(b'{\"checkpoint\"'))
$1
open('$scratch/b', 'wb').write(b'\n'.join(l))"
}
change 'l[5] = l[5].replace(b"folder", b"socket")'
spoil 'who from where' 'says something else than its bytes'
change 'o = json.loads(l[5]); r = bytearray(base64.b64decode(o["leaf"])); r[-1] ^= 1; o["leaf"] = base64.b64encode(r).decode(); l[5] = json.dumps(o).encode()'
spoil 'a bit of a leaf' 'entry 5'
change 'del l[5]'
spoil 'an entry left out' 'entry 6 stands where entry 5 belongs'
change 'l[5], l[6] = l[6], l[5]'
spoil 'entries in another order' 'entry 6 stands where entry 5 belongs'
change 'del l[c - 1]'
spoil 'the newest entry left out' 'the checkpoint seals'
change 'del l[c]'
spoil 'no checkpoint' 'there is no checkpoint'
change 'l[c] = l[c].replace(b"number ", b"number 1")'
spoil 'another checkpoint' 'does not fit'
change 'i = next(i for i in range(c, len(l)) if b"F0.2" in l[i]); l[i] = l[i].replace(b"F0.2", b"F0.3")'
spoil 'a program' 'were changed'
change 'i = next(i for i in range(c, len(l)) if b"F0.2" in l[i]); l[i] = l[i] + b" "'
spoil 'a longer program' 'were changed'
change 'i = next(i for i in range(c, len(l)) if b"F0.2" in l[i]); l[i] = l[i].replace(b"F0.2", b"F")'
spoil 'a shorter program' 'is not whole'
change 'i = next(i for i in range(c + 1, len(l)) if l[i].startswith(b"{\"program\"")); k = next(k for k in range(i + 1, len(l)) if l[k].startswith((b"{\"program\"", b"{\"end\""))); del l[i:k]'
spoil 'a program left out' 'is left out'
change 'l[-1:] = [b"{}", b""]'
spoil 'something behind the end' 'behind the end'
change 'l[0] = l[0].replace(b"yoke archive\":1", b"yoke archive\":2")'
spoil 'another kind' 'no archive of this kind'
for cut in 0 1 100 20000; do
	head -c "-$((cut + 1))" "$scratch/a" >"$scratch/b"
	spoil "cut by $cut" ''
done
: >"$scratch/b"
spoil 'nothing' 'cut off'

# A program that the vault has no more: the archive is what there is, and says so.
cat >"$scratch/lose.py" <<'END'
import sqlite3, sys
db = sqlite3.connect(sys.argv[1])
guards = db.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger' AND name LIKE 'p%remains'").fetchall()
assert len(guards) == 2
for name, _ in guards:
    db.execute("DROP TRIGGER " + name)
(i,) = db.execute("SELECT id FROM program WHERE sha = ?", (bytes.fromhex(sys.argv[2]),)).fetchone()
db.execute("DELETE FROM piece WHERE program = ?", (i,))
db.execute("DELETE FROM program WHERE id = ?", (i,))
for _, sql in guards:
    db.execute(sql)
db.commit()
END
python3 "$scratch/lose.py" "$home/vault/yoke.db" "$upper"
rm "$scratch/b"
start
yoke archive --before "$tomorrow" "$scratch/b" >"$scratch/said" || fail "yoke archive without a program: $(cat "$scratch/said")"
expect_in 'an archive without a program' '1 more are named' "$(cat "$scratch/said")"
stop

# Another trail's key.
mv "$home" "$scratch/first"
mkdir -p "$home" "$programs"
settings settle_ms 100
start
yoke keys >"$scratch/keys"
check "$scratch/a" >"$scratch/said" && fail "another trail's key is taken"
expect_in "another trail's key" 'not signed with this key' "$(cat "$scratch/said")"
stop
