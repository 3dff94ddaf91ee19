"""What the tests with real file servers have in common: a share behind a server, the carrier by hand, and what must
be so after each order: its words, its time, the bytes that lie in the server's folder by hashlib, and the password
nowhere where others may look."""
import hashlib
import os
import shutil
import subprocess
import threading
import time

import remote_servers as servers
from remote_servers import UID, USER, write

CHANNELS = ("upper", "lower")
FOLDERS = {"upper": "CH1", "lower": "CH2"}
NAME = "O4417.NC"
PASSWORD = "sesame 7#c\"4\\x%41"  # with what shells, URLs and commands give a meaning to
HELD = {
    "old": "the machine holds what it held before",
    "new": "the machine holds the new program (read back and equal)",
    "absent": "the machine holds nothing",
    "unknown": "the machine holds not known",
}
TIMES = {"open_ms": 3000, "answer_ms": 2000, "stall_ms": 2000, "total_ms": 25000}


class Wrong(Exception):
    pass


def program(channel, revision, size):
    """The text of a program, of about this size."""
    head = f"%\nO4417(JOB J4417 REV {revision} {channel.upper()})\n"
    block = f"N10 G1 X10.{ord(revision):03d} Z-20.5 F0.2\n"
    return (head + block * max(1, (size - len(head)) // len(block)) + "M30\n%\n").encode()


def digest(data):
    return hashlib.sha256(data).hexdigest()


class Bench:
    """A server of a kind with a share, and the machine's file for it."""

    def __init__(self, kind, folder, carrier, number):
        self.kind, self.carrier, self.old = kind, carrier, True
        self.scratch = f"{folder}/{kind}"
        self.root, self.name = f"{self.scratch}/root", NAME
        self.server = servers.Server(kind, folder, self.root, 2100 + 10 * number)
        self.keys = folder
        self.order = 100 * number
        self.sizes, self.brief = {}, False
        os.makedirs(self.scratch, exist_ok=True)
        self.lay_out()

    # --- The share ---

    def lay_out(self, size=3000, old=True, name=NAME, root="root"):
        """The share as before an order: revision A in both channels, or nothing."""
        self.old = old
        self.sizes = {"A": size, "B": size + size // 7}
        for mounted in [self.path(c) for c in CHANNELS] + [self.root]:
            if os.path.ismount(mounted) or mounted in servers.mounts():
                subprocess.run(["umount", "-l", mounted], check=True)
        shutil.rmtree(self.root, ignore_errors=True)
        self.name, self.root = name, f"{self.scratch}/{root}"
        self.fill()
        for revision in "AB":
            for c in CHANNELS:
                with open(f"{self.scratch}/{revision}.{c}", "wb") as f:
                    f.write(program(c, revision, self.sizes[revision]))

    def fill(self):
        for c in CHANNELS:
            os.makedirs(f"{self.root}/{FOLDERS[c]}", exist_ok=True)
            os.chown(f"{self.root}/{FOLDERS[c]}", UID, UID)
            if self.old:
                self.put(c, program(c, "A", self.sizes["A"]))
        write(f"{self.root}/HERE", "")
        os.chmod(self.root, 0o755)

    def path(self, channel):
        return f"{self.root}/{FOLDERS[channel]}/{self.name}"

    def put(self, channel, data, owner=UID):
        with open(self.path(channel), "wb") as f:
            f.write(data)
        os.chown(self.path(channel), owner, owner)

    def holds(self, channel):
        """old, new, absent or other, by the bytes on the server's disk."""
        try:
            with open(self.path(channel), "rb") as f:
                have = digest(f.read())
        except FileNotFoundError:
            return "absent"
        for word, revision in (("old", "A"), ("new", "B")):
            if have == digest(program(channel, revision, self.sizes[revision])):
                return word
        return "other"

    def held(self):
        return [self.holds(c) for c in CHANNELS]

    def left(self):
        return sorted(n for f in FOLDERS.values() for n in os.listdir(f"{self.root}/{f}") if "yoke-" in n)

    def arriving(self):
        """The size of what is just being written for the upper channel."""
        size = 0
        for name in os.listdir(f"{self.root}/{FOLDERS['upper']}"):
            if name.endswith(".part"):
                try:
                    size = max(size, os.path.getsize(f"{self.root}/{FOLDERS['upper']}/{name}"))
                except FileNotFoundError:
                    pass
        return size

    # --- The machine's file ---

    def configure(self, **change):
        line = {
            "kind": "remote", "address": f"{self.server.scheme}://127.0.0.1:{self.server.front}", "root": self.root,
            "marker": "HERE", "user": USER, "password": f"file:{write(self.scratch + '/password', PASSWORD, 0o600)}",
        }
        line.update(TIMES)
        if self.server.scheme == "ftps":
            line["tls"] = self.server.tls
            line["ca"] = f"{self.keys}/ca.pem"
        if self.server.scheme == "sftp":
            line["pin"] = servers.host_pin(self.keys, "host-ecdsa")
        line.update(change)
        text = "[line]\n" + "".join(f"{k} = {v}\n" for k, v in line.items() if v is not None)
        text += "".join(f"[line {c}]\nfolder = {FOLDERS[c]}\n" for c in CHANNELS)
        write(f"{self.scratch}/machine.conf", text)

    # --- The carrier ---

    def begin(self, act="send", new_order=True):
        self.order += new_order
        return Order(self, act)

    def send(self, act="send", new_order=True, within=40):
        return self.begin(act, new_order).end(within)


class Order:
    """A carrier at work, and everything that it could give away meanwhile."""

    def __init__(self, bench, act):
        self.bench, self.began = bench, time.monotonic()
        said = f"{bench.scratch}/said"
        for name in os.listdir(bench.scratch):
            if name.endswith((".before", ".machine")) or name.startswith("came."):
                os.remove(f"{bench.scratch}/{name}")
        with open(said, "wb") as out:
            self.process = subprocess.Popen(
                [bench.carrier, act, f"{bench.scratch}/machine.conf", "--order", str(bench.order)]
                + [w for c in CHANNELS for w in ("--name", f"{c}={bench.name}")]
                + [f"{c}={bench.scratch}/{'came' if act == 'fetch' else 'B'}.{c}" for c in CHANNELS],
                stdout=out, stderr=out, stdin=subprocess.DEVNULL)
        self.file, self.leak, self.ended = said, "", False
        self.text, self.took, self.status = "", 0, None
        self.watch = threading.Thread(target=self._peek, daemon=True)
        self.watch.start()

    def _peek(self):
        """What any user can see of any process, and of this one also its environment."""
        words = [PASSWORD.encode()]
        while not self.ended:
            for name in os.listdir("/proc"):
                for what in ("cmdline", "environ", "comm"):
                    try:
                        with open(f"/proc/{name}/{what}", "rb") as f:
                            if name.isdigit() and any(w in f.read() for w in words):
                                self.leak = f"/proc/{name}/{what}"
                    except OSError:
                        pass
            time.sleep(0.05)

    def running(self):
        return self.process.poll() is None

    def at(self, size):
        """Wait until so many bytes of the upper program have come."""
        while self.bench.arriving() < size:
            if not self.running():
                raise Wrong(f"the order ended before {size} bytes had come: {self.end().text}")
            time.sleep(0.001)

    def kill(self):
        self.process.kill()
        return self.end()

    def end(self, within=40):
        try:
            self.status = self.process.wait(within)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        self.took = time.monotonic() - self.began
        self.ended = True
        self.watch.join()
        with open(self.file, encoding="utf-8", errors="replace") as f:
            self.text = f.read()
        if self.status is None:
            raise Wrong(f"not ended after {within} s: {self.text}")
        if PASSWORD in self.text or self.leak:
            raise Wrong(f"the password is in {self.leak or 'what is said'}: {self.text}")
        return self

    def said_of(self, channel):
        """old, new, absent, unknown, or None when nothing was said."""
        for line in self.text.splitlines():
            if line.startswith(f"{channel}: the machine holds"):
                for word, text in HELD.items():
                    if line.startswith(f"{channel}: {text}"):
                        return word
                return line
        return None

    def is_true(self):
        """What was said of a channel is what lies on the server's disk."""
        for c in CHANNELS:
            said, have = self.said_of(c), self.bench.holds(c)
            old = "old" if self.bench.old else "absent"
            if said != "unknown" and have != {"old": old}.get(said, said):
                raise Wrong(f"of {c} was said '{said}', and it is {have}: {self.text}")
        return self

    def failed(self, words, held=("old", "old")):
        """It failed for this (the error's own words are among them), and the machine holds that."""
        if self.status != 1:
            raise Wrong(f"status {self.status} in place of 1: {self.text}")
        for w in [words] if isinstance(words, str) else words:
            if w not in self.text:
                raise Wrong(f"not said: '{w}'; but: {self.text}")
        if held:
            self.is_true()
        if held and self.bench.held() != list(held):
            raise Wrong(f"it holds {self.bench.held()} in place of {list(held)}: {self.text}")
        return self

    def carried(self):
        if self.status != 0:
            raise Wrong(f"not carried, status {self.status}: {self.text}")
        if self.bench.held() != ["new", "new"] or [self.said_of(c) for c in CHANNELS] != ["new", "new"]:
            raise Wrong(f"said to be carried, and it holds {self.bench.held()}: {self.text}")
        if self.bench.left():
            raise Wrong(f"left over: {self.bench.left()}: {self.text}")
        return self

    def last(self):
        """The sentence that it ended with."""
        lines = [x for x in self.text.splitlines() if x.startswith(("yoke-carrier: ", "all channels were"))]
        return lines[-1] if lines else "nothing was said"
