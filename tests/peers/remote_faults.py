"""The faults of a share on a real server: each ends in its named outcome, in its time, with nothing half called
carried; and when the fault is gone the same order, under its old number, is carried."""
import os
import socket
import subprocess
import time

from remote_bench import FOLDERS, NAME, Wrong, digest
from remote_servers import UID, host_pin, certificate_pin, tree, write

OFFLINE = "the machine's share or line cannot be reached"
MARKER = "the share's marker file is not there"
LOGIN = "the server takes neither this user nor this password or key"
IDENTITY = "the server is not known to be the right one"
REFUSED = "the server or share refused what was asked of it"
NO_ANSWER = "the server did not answer in time"
SPACE = "the machine's disk or memory is full"
IO = "reading or writing failed"
TIME = "the whole took too long"
BUSY = "it is used by another program or order, or by too many"

CASES = []


def case(most, only=None, short=False):
    """most: seconds in which the order must have ended; only: for schemes or kinds; short: in the short run too, with
    these kinds or with all (True)."""
    def add(f):
        CASES.append((f.__name__, f, most, only, short))
        return f
    return add


def passes(o):
    """What it ended for is nothing that needs a person: it can pass by itself."""
    for word in (LOGIN, IDENTITY, SPACE, TIME, "what was read back is not what was sent"):
        if word in o.text:
            raise Wrong(f"ended for '{word}': {o.text}")
    return o


def again(b, **o):
    """The fault is gone: the same order is carried."""
    b.server.kill()
    b.server.start(**o)
    b.configure()
    b.send(new_order=False).carried()


def old_is(b, *held):
    if b.held() != list(held):
        raise Wrong(f"it holds {b.held()} in place of {list(held)}")


# --- Nobody there, or no longer ---

@case(6, short=True)
def refused(b):
    b.configure()
    o = b.send().failed([OFFLINE, "does not answer"])
    again(b)
    return o


def uploading(b):
    b.lay_out(200000)
    b.server.start(rate=150000)
    b.configure()
    o = b.begin()
    o.at(40000)
    return o


@case(20, short=True)
def killed_uploading(b):
    o = uploading(b)
    b.server.kill()
    o.end().failed([IO, "the connection was lost"])
    again(b)
    return o


@case(12, short=("sftp",))
def killed_at_login(b):
    """Over SFTP, libcurl takes a connection that ends in the login for a refused login, and one that ends beside it
    for a failed start: orders failed for a wrong password, or for another server, that would have been tried again."""
    b.configure()
    for i in range(16):
        b.server.start()
        o = b.begin()
        time.sleep(0.01 + 0.006 * i)
        b.server.kill()
        if o.end().status == 0 or "upper: sending" in o.text:
            break  # it was past the login; what comes of a cut there is tried by remote_cuts.py
        passes(o.failed([]))
    again(b)
    return o


@case(25)
def session_killed_uploading(b):
    o = uploading(b)
    b.server.kill_sessions()
    o.end().failed(["upper: ", "channel upper"])
    if IO not in o.text and NO_ANSWER not in o.text:
        raise Wrong(f"another outcome: {o.text}")
    again(b)
    return o


@case(35, short=("sftp",))
def frozen_uploading(b):
    o = uploading(b)
    b.server.freeze()
    o.end().failed(NO_ANSWER)
    b.server.thaw()
    time.sleep(0.5)
    again(b)
    return o


@case(12)
def frozen_before_connect(b):
    b.server.start()
    b.configure()
    b.server.freeze()
    o = b.send().failed(NO_ANSWER)
    b.server.thaw()
    again(b)
    return o


@case(12)
def frozen_before_login(b):
    b.server.start()
    b.configure()
    o = b.begin()
    while len(tree(b.server.process.pid)) < 2 and o.running():
        pass
    b.server.freeze()
    o.end().failed(NO_ANSWER)
    b.server.thaw()
    again(b)
    return o


# --- A disk or folder that takes nothing ---

def mount(b, size):
    subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={size}k,mode=755", "yoke-test", b.root], check=True)
    b.fill()


def full(b, size):
    b.lay_out(100000)
    mount(b, size)
    b.server.start()
    b.configure()
    o = b.send().failed("its disk is full")
    if SPACE not in o.text and IO not in o.text:
        raise Wrong(f"another outcome: {o.text}")
    subprocess.run(["mount", "-o", "remount,size=4m", b.root], check=True)
    if b.left():
        raise Wrong(f"left over on a full disk: {b.left()}")
    again(b)
    return o


@case(10, short=("ftp", "sftp"))
def full_for_the_first(b):
    return full(b, 270)


@case(10)
def full_for_the_copy(b):
    return full(b, 360)


@case(10)
def full_for_the_second(b):
    return full(b, 480)


@case(10, short=("ftp", "sftp", "ftps"))
def read_only_folder(b):
    b.server.start()
    b.configure()
    os.chown(f"{b.root}/{FOLDERS['lower']}", 0, 0)
    o = b.send().failed([REFUSED, "nothing was changed"])
    if b.left():
        raise Wrong(f"left over: {b.left()}: {o.text}")
    os.chown(f"{b.root}/{FOLDERS['lower']}", UID, UID)
    again(b)
    return o


@case(10)
def read_only_disk(b):
    mount(b, 4096)
    subprocess.run(["mount", "-o", "remount,ro", b.root], check=True)
    b.server.start()
    b.configure()
    o = b.send().failed([REFUSED, "nothing was changed"])
    subprocess.run(["mount", "-o", "remount,rw", b.root], check=True)
    again(b)
    return o


@case(10)
def no_marker(b):
    b.server.start()
    b.configure()
    os.rename(f"{b.root}/HERE", f"{b.root}/THERE")
    o = b.send().failed(MARKER)
    os.rename(f"{b.root}/THERE", f"{b.root}/HERE")
    again(b)
    return o


@case(10)
def no_folder(b):
    b.server.start()
    b.configure()
    os.rename(f"{b.root}/CH2", f"{b.root}/CH3")
    o = b.send().failed([OFFLINE, "is not there"], None)
    os.rename(f"{b.root}/CH3", f"{b.root}/CH2")
    old_is(b, "old", "old")
    again(b)
    return o


@case(10)
def not_readable(b):
    b.server.start()
    b.configure()
    os.chown(b.path("lower"), 0, 0)
    os.chmod(b.path("lower"), 0o600)
    o = b.send().failed(REFUSED)
    os.chown(b.path("lower"), UID, UID)
    again(b)
    return o


# --- A server that refuses ---

@case(10, short=("sftp",))
def rename_refused(b):
    b.server.start(denied={"vsftpd": "RNFR RNTO", "proftpd": "RNFR RNTO"}.get(
        b.server.program, "rename,posix-rename,hardlink"))
    b.configure()
    o = b.send().failed([REFUSED, "nothing was changed"])
    again(b)
    return o


@case(10, short=True)
def second_rename_refused(b):
    """Whoever is not the owner of a file in a sticky folder may neither replace nor remove it."""
    b.server.start()
    b.configure()
    os.chown(f"{b.root}/{FOLDERS['lower']}", 0, 0)
    os.chmod(f"{b.root}/{FOLDERS['lower']}", 0o1777)
    os.chown(b.path("lower"), 0, 0)
    o = b.send().failed([REFUSED, "the old programs were put back"])
    if b.left():
        raise Wrong(f"left over: {b.left()}: {o.text}")
    os.chown(b.path("lower"), UID, UID)
    again(b)
    return o


@case(12)
def removal_refused(b):
    """Over FTP the pair is carried all the same, and its temporaries wait for the next order."""
    b.server.start(denied="remove" if b.server.scheme == "sftp" else "DELE")
    b.configure()
    o = b.send()
    if b.server.scheme == "sftp":
        o.failed([REFUSED, "nothing was changed"])
        again(b)
        return o
    if o.status != 0:
        raise Wrong(f"not carried: {o.text}")
    old_is(b, "new", "new")
    b.server.kill()
    b.server.start()
    b.send().carried()
    return o


# --- Who it is ---

@case(12, short=("ftp", "sftp"))
def wrong_password(b):
    b.server.start()
    b.configure(answer_ms=8000, open_ms=9000)  # servers take their time to say no
    write(f"{b.scratch}/password", "another-6d0f", 0o600)
    o = b.send().failed(LOGIN)
    if "another-6d0f" in o.text:
        raise Wrong(f"the password is in what is said: {o.text}")
    again(b)
    return o


def identity(b, change, words, **o):
    """With this in the machine's file the server is not the right one; nobody has logged in, and nothing changed."""
    b.server.start(**o)
    b.configure(**change)
    o = b.send().failed([IDENTITY, words])
    if not b.brief:
        again(b)
    return o


@case(8, only=("ftps",), short=True)
def unknown_authority(b):
    return identity(b, {"ca": f"{b.keys}/otherca.pem"}, "its certificate is not accepted")


@case(8, only=("ftps",))
def unknown_to_the_system(b):
    return identity(b, {"ca": None}, "its certificate is not accepted")


@case(8, only=("ftps",), short=True)
def another_name(b):
    return identity(b, {}, "its certificate is not accepted", certificate="othername")


@case(8, only=("ftps",), short=True)
def ran_out(b):
    return identity(b, {}, "its certificate is not accepted", certificate="ranout")


@case(8, only=("ftps",), short=True)
def wrong_certificate_pin(b):
    return identity(b, {"ca": None, "pin": "sha256//" + 43 * "A" + "="}, "its certificate is not accepted")


@case(20, only=("ftps",), short=True)
def right_certificate_pin(b):
    """The pin alone, whatever name the certificate has; and no pin makes up for a wrong authority."""
    b.server.start(certificate="othername")
    b.configure(ca=None, pin=certificate_pin(b.keys))
    o = b.send().carried()
    b.configure(ca=f"{b.keys}/otherca.pem", pin=certificate_pin(b.keys))
    b.send().failed(IDENTITY, None)
    return o


@case(20, only=("ftps",), short=("ftps-other-implicit",))
def no_tls(b):
    """A server without TLS: nothing is sent in clear text; and TLS that begins in another place than expected."""
    if b.server.tls == "explicit":
        b.server.start(tls="none")
        b.configure()
        o = b.send().failed(IDENTITY, None)
        b.server.kill()
        b.server.start(tls="implicit")
        b.send().failed(NO_ANSWER)
    else:
        b.server.start(tls="explicit")
        b.configure()
        o = b.send().failed([REFUSED, "no TLS was agreed"])
    again(b)
    return o


@case(8, only=("sftp",), short=True)
def wrong_host_pin(b):
    return identity(b, {"pin": "SHA256:" + 43 * "A"}, "its host key is not the expected one")


@case(8, only=("sftp",), short=True)
def changed_host_key(b):
    return identity(b, {}, "its host key is not the expected one", host="host-new")


def known(b, key):
    """A known_hosts file with this key, "" for that of another host alone."""
    with open(f"{b.keys}/{key or 'host-ecdsa'}.pub", encoding="utf-8") as f:
        kind, text = f.read().split()[:2]
    host = f"[127.0.0.1]:{b.server.port}" if key else "[127.0.0.1]:9"
    return write(f"{b.scratch}/known_hosts", f"{host} {kind} {text}\n")


@case(8, only=("sftp",), short=True)
def unknown_host(b):
    return identity(b, {"pin": None, "known_hosts": known(b, "")}, "its host key is not the expected one")


@case(8, only=("sftp",), short=True)
def known_with_another_key(b):
    return identity(b, {"pin": None, "known_hosts": known(b, "host-new")}, "its host key is not the expected one")


@case(8, only=("sftp",))
def host_key_of_rsa_type(b):
    return identity(b, {"pin": host_pin(b.keys, "host-rsa")}, "of RSA type", host="host-rsa")


@case(12, only=("sftp",), short=True)
def right_keys(b):
    """Known by a file, or by an Ed25519 key; logged in with a key of either type."""
    b.server.start()
    for key in ("client", "client-ecdsa"):
        b.lay_out()
        b.configure(pin=None, known_hosts=known(b, "host-ecdsa"), password=None, key=f"file:{b.keys}/{key}")
        o = b.send().carried()
    b.server.kill()
    b.server.start(host="host-ed25519")
    b.configure(pin=host_pin(b.keys, "host-ed25519"))
    b.send().carried()
    return o


@case(12, only=("sftp",), short=True)
def wrong_key(b):
    b.server.start()
    b.configure(password=None, key=f"file:{b.keys}/stranger")
    o = b.send().failed(LOGIN)
    b.configure(password=None, key=f"file:{b.keys}/client-rsa")
    b.send().failed([LOGIN, "RSA"])
    again(b)
    return o


# --- A slow one: 1 KB in a second ---

@case(20, short=("ftps-other-implicit",))
def too_slow(b):
    b.lay_out(40000, old=False)
    b.server.start(rate=1024)
    slow = {"total_ms": 9000, "open_ms": 9000} if b.server.scheme == "sftp" else {"total_ms": 6000}
    b.configure(stall_ms=30000, **slow)
    o = b.send().failed([TIME, "total_ms"], ("absent", "absent"))
    if not b.brief:
        again(b)
    return o


@case(100)
def slow_and_carried(b):
    """1 KB in a second is enough when there is time."""
    b.lay_out(1000)
    b.server.start(rate=1024)
    b.configure(total_ms=95000, open_ms=30000)
    return b.send(within=100).carried()


@case(60, only=("ftp", "ftps"))
def slow_to_the_end(b):
    """All of the program lies in the buffers of both systems long before such a server has read it: an order ended for
    the lack of an answer to the last byte."""
    b.lay_out(40000, old=False)
    b.server.start(rate=6000)
    b.configure(total_ms=59000, stall_ms=20000)
    o = b.send(within=60).carried()
    b.lay_out(40000, old=False)
    b.configure(total_ms=59000)  # stall_ms is shorter than it takes
    b.send().failed(NO_ANSWER, ("absent", "absent"))
    return o


# --- And no fault ---

@case(20, short=True)
def no_fault(b):
    b.server.start()
    b.configure()
    o = b.send().carried()
    b.send("inspect", new_order=False)
    f = b.send("fetch")
    if f.status:
        raise Wrong(f"not fetched: {f.text}")
    for c in FOLDERS:
        with open(f"{b.scratch}/came.{c}", "rb") as came, open(b.path(c), "rb") as there:
            if digest(came.read()) != digest(there.read()):
                raise Wrong(f"what was fetched of {c} is not what is there")
    b.lay_out(old=False)
    b.send().carried()
    return o


@case(40, only=("ftps",), short=("ftps-1.3",))
def tickets_unread(b):
    """The end of an upload was lost in most orders: libcurl closes a TLS 1.3 data connection with the session tickets
    unread, which resets it, and a server that has not read to the end yet loses the rest. And where its one attempt to
    end TLS found no room, the server took the file for one that was cut off."""
    b.server.start()
    for size in (200000, 200000, 200000, 3000000):
        b.lay_out(size)
        b.configure()
        o = b.send().carried()
    return o


@case(30)
def large(b):
    b.lay_out(20000000)
    b.server.start()
    b.configure()
    return b.send().carried()


@case(40)
def strange_names(b):
    b.server.start()
    for name in ("O 44 17.NC", "O'44\"17\\x.NC", "#44%41;17?.NC", "-r.NC", "O44\u00e4\u20ac.NC", "*.NC", "[4]{1,7}.NC"):
        b.lay_out(name=name, root="root a#b%41\"c")
        b.configure()
        o = b.send().carried()
    b.lay_out(name=NAME)
    return o


@case(12, only=("ftp", "ftps"))
def nobody_more(b):
    """As many as it takes are there."""
    b.server.start(clients=1)
    b.configure()
    with socket.create_connection(("127.0.0.1", b.server.port)):
        time.sleep(0.3)
        says_so = b.server.program == "vsftpd" and b.server.tls != "implicit"  # there in clear text, and not as TLS
        o = passes(b.send().failed([BUSY, "takes nobody more"] if says_so else []))
    again(b)
    return o
