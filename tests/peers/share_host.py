"""The server side of samba.sh and nfs.sh: starts, freezes and kills Samba's smbd or NFS-Ganesha, as the guest asks over TCP.

usage: share_host.py smb|nfs FOLDER ASK-PORT SHARE-PORT

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

kind, folder, ask_port, share_port = sys.argv[1], sys.argv[2], int(sys.argv[3]), int(sys.argv[4])
share = os.path.join(folder, "share")
conf = os.path.join(folder, "server.conf")
server = None


def write_nfs_conf(read_only):
    """NFS 4 alone, since older ones want a port mapper; no grace after a start, which is 90 s by default."""
    with open(conf, "w", encoding="ascii") as f:
        f.write(f"NFS_CORE_PARAM {{ NFS_Port = {share_port}; Bind_addr = 127.0.0.1; Protocols = 4; Enable_UDP = false;\n"
                "Enable_NLM = false; Enable_RQUOTA = false; }\n"
                f'NFSv4 {{ RecoveryRoot = "{folder}/lock"; Graceless = true; Lease_Lifetime = 5; }}\n'
                f"EXPORT {{ Export_Id = 1; Path = {share}; Pseudo = /yoke; Protocols = 4; Transports = TCP; SecType = sys;\n"
                f"Squash = No_Root_Squash; Access_Type = {'RO' if read_only == 'yes' else 'RW'}; FSAL {{ Name = VFS; }} }}\n")


def write_smb_conf(read_only):
    with open(conf, "w", encoding="ascii") as f:
        f.write("[global]\nserver role = standalone server\ninterfaces = 127.0.0.1/8\nbind interfaces only = yes\n"
                f"smb ports = {share_port}\ndisable netbios = yes\nserver min protocol = NT1\nntlm auth = yes\n"
                "load printers = no\nunix extensions = no\n"
                f"passdb backend = smbpasswd:{folder}/smbpasswd\nlog file = {folder}/smbd.log\n")
        for name in ("private dir", "state directory", "cache directory", "lock directory", "pid directory"):
            f.write(f"{name} = {folder}/lock\n")
        f.write(f"ncalrpc dir = {folder}/lock/ncalrpc\n"
                f"[yoke]\npath = {share}\nvalid users = root\nread only = {read_only}\n")


write_conf = write_smb_conf if kind == "smb" else write_nfs_conf
command = (["smbd", "-F", "--no-process-group", "-s", conf] if kind == "smb" else
           ["ganesha.nfsd", "-F", "-f", conf, "-p", f"{folder}/pid", "-L", f"{folder}/log"])


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
    server = subprocess.Popen(command, stdin=subprocess.DEVNULL)
    for _ in range(200):
        try:
            socket.create_connection(("127.0.0.1", share_port), 1).close()
            return "up"
        except OSError:
            time.sleep(0.05)
    return "the server does not answer"


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
if kind == "smb":
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
