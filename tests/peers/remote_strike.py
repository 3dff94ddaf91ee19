"""Kills a server with all its sessions in the moment in which a file is replaced: remote_strike.py FILE PID."""
import os
import signal
import sys

from remote_servers import signal_all, tree


def which(path):
    try:
        return os.stat(path).st_ino
    except FileNotFoundError:
        return None


path, pid = sys.argv[1], int(sys.argv[2])
before = which(path)
print("watching", flush=True)
while which(path) in (before, None):
    pass
signal_all(tree(pid), signal.SIGSTOP)
signal_all(tree(pid), signal.SIGKILL)
