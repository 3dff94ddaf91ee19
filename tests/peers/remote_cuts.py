"""Cuts of an order to a real server at moments spread over its run: the carrier killed, or the server with all its
sessions. After each the channels hold old or new programs alone (or, where a server replaces none, for a moment
nothing), what was said of them is so, and a look ends with both old or both new, says which, and leaves nothing
behind; then the same order is carried."""
import os
import time

from remote_bench import CHANNELS, Wrong
from remote_faults import passes

WHOLE = (["old", "old"], ["new", "new"])
SPLIT = (["new", "old"],)
AWAY = (["absent", "old"], ["new", "absent"])  # SFTP alone: see README


def looked(b):
    """Looked at as the service does; the programs are whole, and what is said is so."""
    o = b.send("inspect", new_order=False)
    if o.status != 0:
        raise Wrong(f"a look ends with {o.status}: {o.text}")
    o.is_true()
    if b.held() not in WHOLE or b.left():
        raise Wrong(f"after a look it holds {b.held()}, left over {b.left()}: {o.text}")
    if "unknown" in [o.said_of(c) for c in CHANNELS]:
        raise Wrong(f"still not known after a look: {o.text}")
    return b.held()[0]


def which(path):
    try:
        return os.stat(path).st_ino
    except FileNotFoundError:
        return None


def one(b, after, kill_server, replaced):
    """What it held after the cut, and after the look. replaced: the time begins when the upper program goes."""
    b.lay_out(20000)
    before = which(b.path("upper"))
    o = b.begin()
    while replaced and which(b.path("upper")) == before and o.running():
        pass
    time.sleep(after)
    if kill_server:
        b.server.kill()
        passes(o.end().is_true())
        if o.status == 0 and b.held() != ["new", "new"]:
            raise Wrong(f"said to be carried, and it holds {b.held()}: {o.text}")
    else:
        o.kill()
        time.sleep(0.2)  # what the server was told already
    held = b.held()
    if held not in WHOLE + SPLIT + (AWAY if b.server.scheme == "sftp" else ()):
        raise Wrong(f"cut after {after:.3f} s it holds {held}: {o.text}")
    if kill_server:
        said = [o.said_of(c) for c in CHANNELS]
        if held not in WHOLE and "unknown" not in said:
            raise Wrong(f"it holds {held}, and is said to be known: {o.text}")
        b.server.start()
    ended = looked(b)
    b.send(new_order=False).carried()
    return "whole" if held in WHOLE else "away" if "absent" in held else "split", ended


def run(b, n):
    """n cuts of each way; what came of them, in words. Raises Wrong."""
    b.lay_out(20000)
    b.server.start()
    b.configure()
    took = b.send().carried().took
    words = []
    for kill_server in (False, True):
        for replaced, spread in ((False, took), (True, 0.02)):
            came = [one(b, spread * (i + 0.5) / n, kill_server, replaced) for i in range(n)]
            words.append(
                f"{n} times the {'server' if kill_server else 'carrier'} killed within {spread:.2f} s"
                + (" after the first program went: " if replaced else ": ")
                + ", ".join(f"{sum(1 for c in came if c[0] == w)} {w}" for w in ("whole", "split", "away"))
                + "; after the look " + ", ".join(f"{sum(1 for c in came if c[1] == w)} {w}" for w in ("old", "new")))
    return "; ".join(words)
