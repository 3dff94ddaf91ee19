"""Write the trail of a vault anew: entry SEQ was made by somebody else. The chain fits again, and state and tree
are given to yoked to make anew, as those of an older layout. usage: trail_rewrite.py VAULT SEQ"""
import hashlib
import sqlite3
import struct
import sys

db = sqlite3.connect(sys.argv[1])
for name in ("event_stays", "event_remains", "event_follows"):
    db.execute("DROP TRIGGER " + name)
db.execute("UPDATE event SET who='somebody else' WHERE seq=?", (sys.argv[2],))
before = bytes(32)
texts = "kind,who,origin,machine,job,revision,outcome,text,detail"
for row in db.execute("SELECT seq,utc_us,ord,parts," + texts + " FROM event ORDER BY seq").fetchall():
    data = before + b"yoke event 1\n" + struct.pack(">QqQ", *row[:3])
    for text in row[4:]:
        data += struct.pack(">I", len(text.encode())) + text.encode()
    before = hashlib.sha256(data + row[3]).digest()
    db.execute("UPDATE event SET hash=? WHERE seq=?", (before, row[0]))
db.execute("UPDATE trail SET head=?", (before,))
for sql in ("CREATE TRIGGER event_follows BEFORE INSERT ON event WHEN NEW.seq IS NOT (SELECT seq+1 FROM trail)"
            " BEGIN SELECT RAISE(ABORT,'an entry must follow the last one'); END",
            "CREATE TRIGGER event_stays BEFORE UPDATE ON event"
            " BEGIN SELECT RAISE(ABORT,'an entry is never changed'); END",
            "CREATE TRIGGER event_remains BEFORE DELETE ON event"
            " BEGIN SELECT RAISE(ABORT,'an entry is never removed'); END",
            "PRAGMA user_version=1"):
    db.execute(sql)
db.commit()
db.close()
