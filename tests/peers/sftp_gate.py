"""Between sshd and its sftp-server: freezes the server at a chosen request, as when its machine stands still.

usage (as sshd's subsystem): sftp_gate.py SFTP-SERVER LISTENER FREEZE

LISTENER: a file with the process number of the sshd that listens. FREEZE: a file that, while it is there, says
which request: "write|rename N before|after"; before: the N-th of them is not carried out yet; after: it is carried
out, and the answer does not leave. All processes of the session are stopped (SIGSTOP), this one last; the file is
renamed to FREEZE.done just before. SFTP as in draft-ietf-secsh-filexfer-02 section 3; the renaming extension of
OpenSSH is in its PROTOCOL file, section 4.3.
"""
import os
import signal
import struct
import subprocess
import sys
import time

WRITE, RENAME, EXTENDED = 6, 18, 200
server_path, listener_file, freeze_file = sys.argv[1:]
server = subprocess.Popen([server_path], stdin=subprocess.PIPE)
count = {"write": 0, "rename": 0}


def exactly(n):
    data = b""
    while len(data) < n:
        more = os.read(0, n - len(data))
        if not more:
            server.stdin.close()
            sys.exit(server.wait())
        data += more
    return data


def pass_on(packet):
    server.stdin.write(packet)
    server.stdin.flush()


def kind_of(body):
    if body[0] == WRITE:
        return "write"
    if body[0] == RENAME or (body[0] == EXTENDED and b"posix-rename@openssh.com" in body[:40]):
        return "rename"
    return ""


def asked(kind):
    try:
        with open(freeze_file, encoding="ascii") as f:
            want, number, when = f.read().split()
    except (FileNotFoundError, ValueError):
        return ""
    if want != kind:
        return ""
    count[kind] += 1
    return when if count[kind] == int(number) else ""


def parents():
    with open(listener_file, encoding="ascii") as f:
        listener = int(f.read())
    pid, found = os.getppid(), []
    while pid > 1:
        found.append(pid)
        if pid == listener:
            break
        with open(f"/proc/{pid}/stat", encoding="ascii", errors="replace") as f:
            pid = int(f.read().rsplit(")", 1)[1].split()[1])
    return found


def stop(pids):
    for pid in pids:
        os.kill(pid, signal.SIGSTOP)


while True:
    head = exactly(4)
    body = exactly(struct.unpack(">I", head)[0])
    kind = kind_of(body)
    when = asked(kind) if kind else ""
    if not when:
        pass_on(head + body)
        continue
    count[kind] = 0
    if when == "after":
        stop(parents())
        pass_on(head + body)
        time.sleep(0.3)
    else:
        stop(parents())
    stop([server.pid])
    os.rename(freeze_file, freeze_file + ".done")
    stop([os.getpid()])
    if when == "before":
        pass_on(head + body)
