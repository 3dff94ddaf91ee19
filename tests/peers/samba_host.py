"""The server side of samba.sh: starts, freezes and kills Samba's smbd, as the guest asks over TCP.

usage: samba_host.py FOLDER ASK-PORT SMB-PORT

The share is FOLDER/share. One request a connection, one line; the answer is a line: start, kill, freeze, thaw,
read-only yes|no, kill-at part (as soon as a temporary with bytes in it lies there; answers at once), hello, alive, sums (of all
programs), left (names of temporaries).
"""
import hashlib
import os
import signal
import socket
import subprocess
import sys
import threading
import time

folder, ask_port, smb_port = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
share = os.path.join(folder, "share")
conf = os.path.join(folder, "smb.conf")
server = None


def write_conf(read_only):
    with open(conf, "w", encoding="ascii") as f:
        f.write("[global]\nserver role = standalone server\ninterfaces = 127.0.0.1/8\nbind interfaces only = yes\n"
                f"smb ports = {smb_port}\ndisable netbios = yes\nserver min protocol = NT1\nntlm auth = yes\n"
                "load printers = no\nunix extensions = no\n"
                f"passdb backend = smbpasswd:{folder}/smbpasswd\nlog file = {folder}/smbd.log\n")
        for name in ("private dir", "state directory", "cache directory", "lock directory", "pid directory"):
            f.write(f"{name} = {folder}/lock\n")
        f.write(f"ncalrpc dir = {folder}/lock/ncalrpc\n"
                f"[yoke]\npath = {share}\nvalid users = root\nread only = {read_only}\n")


def tree(pid):
    found = [pid]
    try:
        with open(f"/proc/{pid}/task/{pid}/children", encoding="ascii") as f:
            for child in f.read().split():
                found += tree(int(child))
    except FileNotFoundError:
        pass
    return found


def signal_all(number):
    for pid in tree(server.pid):
        try:
            os.kill(pid, number)
        except ProcessLookupError:
            pass


def start():
    global server
    server = subprocess.Popen(["smbd", "-F", "--no-process-group", "-s", conf], stdin=subprocess.DEVNULL)
    for _ in range(200):
        try:
            socket.create_connection(("127.0.0.1", smb_port), 1).close()
            return "up"
        except OSError:
            time.sleep(0.05)
    return "smbd does not answer"


def kill():
    signal_all(signal.SIGKILL)
    server.wait()
    return "dead"


def files():
    for at, _, names in os.walk(share):
        for name in sorted(names):
            yield os.path.join(at, name)


def kill_at_part():
    while True:
        for path in files():
            try:
                if path.endswith(".part") and os.path.getsize(path) > 0:
                    kill()
                    return
            except FileNotFoundError:
                pass


def sums():
    out = []
    for path in files():
        if path.endswith(".NC"):
            with open(path, "rb") as f:
                out.append(os.path.basename(path) + " " + hashlib.sha256(f.read()).hexdigest())
    return " ".join(sorted(out))


def answer(line):
    words = line.split()
    if words == ["hello"]:
        return "here"
    if words == ["alive"]:
        return "yes" if server.poll() is None else "no"
    if words == ["start"]:
        return start()
    if words == ["kill"]:
        return kill()
    if words == ["freeze"]:
        signal_all(signal.SIGSTOP)
        return "frozen"
    if words == ["thaw"]:
        signal_all(signal.SIGCONT)
        return "goes on"
    if words[:1] == ["read-only"]:
        write_conf(words[1])
        kill()
        return start()
    if words == ["kill-at", "part"]:
        threading.Thread(target=kill_at_part, daemon=True).start()
        return "waits"
    if words == ["sums"]:
        return sums()
    if words == ["left"]:
        return " ".join(os.path.basename(p) for p in files() if ".yoke-" in p)
    return "not understood"


def end(*_):
    kill()
    sys.exit(0)


for name in ("share/CH1", "share/CH2", "lock"):
    os.makedirs(os.path.join(folder, name))
with open(os.path.join(share, "HERE"), "w", encoding="ascii"):
    pass
write_conf("no")
subprocess.run(["smbpasswd", "-c", conf, "-L", "-a", "-s", "root"], input=b"bench\nbench\n", check=True,
               stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
start()
signal.signal(signal.SIGTERM, end)
listener = socket.create_server(("127.0.0.1", ask_port))
print("ready", flush=True)
while True:
    asker, _ = listener.accept()
    with asker:
        line = asker.makefile().readline()
        asker.sendall((answer(line) + "\n").encode())
