"""Kills a server with all its sessions in the moment in which a file is replaced, or in which a part of a new program
lies in a folder: remote_strike.py FILE|FOLDER PID."""
import os
import signal
import sys
import time

from remote_servers import signal_all, tree


def which(path):
    try:
        return os.stat(path).st_ino
    except FileNotFoundError:
        return None


def arrived(folder):
    """Bytes of a new program in this folder."""
    size = 0
    for name in os.listdir(folder):
        if name.endswith(".part"):
            try:
                size = max(size, os.path.getsize(f"{folder}/{name}"))
            except FileNotFoundError:
                pass
    return size


path, pid = sys.argv[1], int(sys.argv[2])
before = which(path)
print("watching", flush=True)
until = time.monotonic() + 60
if os.path.isdir(path):
    while arrived(path) < 20000 and time.monotonic() < until:
        pass
else:
    while which(path) in (before, None) and time.monotonic() < until:
        pass
if time.monotonic() >= until:
    sys.exit(f"nothing came in 60 s: {path} was {before}, is {which(path)}")
signal_all(tree(pid), signal.SIGSTOP)
signal_all(tree(pid), signal.SIGKILL)
