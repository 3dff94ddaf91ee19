#!/usr/bin/env python3
"""A disk whose power can be cut: an NBD server (fixed newstyle; github.com/NetworkBlockDevice/nbd, doc/proto.md, from
memory) that keeps what was written and not flushed apart. At a cut each of these writes stays or is lost, as a disk's own
cache loses them in any order; one may be torn between two sectors.

usage: power_disk.py IMAGE SOCKET SEED: serves IMAGE on the Unix socket SOCKET; reads commands from stdin: "cut N" takes
the power away at the N-th write from now, or after a minute, answers "dropped N of M writes", and no request of the same
guest any more; at its end IMAGE is written back.
"""
import os
import random
import socket
import struct
import sys
import threading

SECTOR = 512
FLAGS = 1 | 4 | 8  # has flags, takes flush, takes FUA


class Disk:
    def __init__(self, path):
        with open(path, "rb") as f:
            self.durable = bytearray(f.read())
        self.now = bytearray(self.durable)
        self.pending = []
        self.lock = threading.Lock()
        self.left = 0  # writes until the cut
        self.cuts = 0  # a guest that was there before the last one is gone
        self.said = threading.Event()

    def read(self, at, n):
        with self.lock:
            return bytes(self.now[at:at + n])

    def write(self, at, data, fua, cuts):
        with self.lock:
            if self.cuts != cuts:
                return
            self.now[at:at + len(data)] = data
            if fua:
                self.durable[at:at + len(data)] = data
                for w in self.pending:  # what lies in the cache for the same place is older, and must not go over it
                    low, high = max(at, w[0]), min(at + len(data), w[0] + len(w[1]))
                    if low < high:
                        w[1][low - w[0]:high - w[0]] = data[low - at:high - at]
            else:
                self.pending.append((at, bytearray(data)))
            if self.left:
                self.left -= 1
                if not self.left:
                    self.cut()

    def flush(self, cuts):
        with self.lock:
            if self.cuts != cuts:
                return
            for at, data in self.pending:
                self.durable[at:at + len(data)] = data
            self.pending = []

    def cut(self):
        """The power goes; the lock is held."""
        keep = random.choice((0.0, 0.5, random.random()))
        kept = [w for w in self.pending if random.random() < keep]
        torn = random.randrange(len(kept)) if kept and random.random() < 0.5 else -1
        for i, (at, data) in enumerate(kept):
            n = len(data)
            if i == torn and n > SECTOR:
                n = SECTOR * random.randrange(n // SECTOR)
            self.durable[at:at + n] = data[:n]
        print(f"dropped {len(self.pending) - len(kept)} of {len(self.pending)} writes", flush=True)
        self.pending = []
        self.now = bytearray(self.durable)
        self.cuts += 1
        self.said.set()

    def cut_at(self, writes):
        self.said.clear()
        with self.lock:
            self.left = writes
        if not self.said.wait(60):
            with self.lock:
                if not self.said.is_set():
                    self.left = 0
                    self.cut()


def take(s, n):
    data = b""
    while len(data) < n:
        piece = s.recv(min(n - len(data), 1 << 20))
        if not piece:
            raise EOFError
        data += piece
    return data


def option(s, disk):
    """One option of the handshake; True when the transmission begins."""
    magic, which, n = struct.unpack(">QII", take(s, 16))
    data = take(s, n)

    def reply(kind, body=b""):
        s.sendall(struct.pack(">QIII", 0x3e889045565a9, which, kind, len(body)) + body)

    if magic != 0x49484156454F5054:
        raise EOFError
    if which == 1:  # EXPORT_NAME
        s.sendall(struct.pack(">QH", len(disk.now), FLAGS) + b"\0" * 124)
        return True
    if which in (6, 7):  # INFO, GO
        reply(3, struct.pack(">HQH", 0, len(disk.now), FLAGS))
        reply(1)
        return which == 7
    if which == 2:  # ABORT
        reply(1)
        raise EOFError
    reply(0x80000001)  # not known
    return False


def serve(s, disk):
    cuts = disk.cuts
    s.sendall(b"NBDMAGICIHAVEOPT" + struct.pack(">H", 3))
    take(s, 4)
    while not option(s, disk):
        pass
    while True:
        magic, flags, kind, handle, at, n = struct.unpack(">IHHQQI", take(s, 28))
        body = b""
        if magic != 0x25609513 or kind == 2:
            return
        if kind == 1:
            disk.write(at, take(s, n), flags & 1, cuts)
        elif kind == 3:
            disk.flush(cuts)
        elif kind == 0:
            body = disk.read(at, n)
        if disk.cuts != cuts:
            while take(s, 1):  # no answer until the guest is gone
                pass
        s.sendall(struct.pack(">IIQ", 0x67446698, 0 if kind in (0, 1, 3) else 22, handle) + body)


def guest(s, disk):
    try:
        serve(s, disk)
    except (EOFError, OSError):
        pass
    s.close()


def accept(listener, disk):
    while True:
        s, _ = listener.accept()
        threading.Thread(target=guest, args=(s, disk), daemon=True).start()


def main():
    image, path, seed = sys.argv[1:4]
    random.seed(int(seed))
    disk = Disk(image)
    listener = socket.socket(socket.AF_UNIX)
    listener.bind(path)
    listener.listen(4)
    threading.Thread(target=accept, args=(listener, disk), daemon=True).start()
    print("ready", flush=True)
    for line in sys.stdin:
        if line.startswith("cut "):
            disk.cut_at(int(line.split()[1]))
        else:
            break
    disk.flush(disk.cuts)
    with open(image, "wb") as f:
        f.write(disk.durable)
    os.unlink(path)


main()
