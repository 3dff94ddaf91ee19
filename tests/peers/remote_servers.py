"""Real file servers on loopback for the tests of a remote share: vsftpd, proftpd, OpenSSH's sshd.

To be used as root in namespaces of its own (remote.sh): it mounts its own users over those of the system and
takes fixed ports. Run as a program: remote_servers.py prepare FOLDER does that, with the user's password from stdin;
remote_servers.py KIND FOLDER ROOT PORT [NAME=VALUE]... becomes that server, in the foreground.
"""
import os
import signal
import subprocess
import sys
import time

USER, UID = "cnc", 3001
HERE = os.path.dirname(os.path.abspath(__file__))

# What each kind is: scheme, how TLS begins, program.
KINDS = {
    "ftp": ("ftp", "", "vsftpd"),
    "ftp-other": ("ftp", "", "proftpd"),
    "ftps": ("ftps", "explicit", "proftpd"),
    "ftps-1.3": ("ftps", "explicit", "vsftpd"),  # with nothing older
    "ftps-implicit": ("ftps", "implicit", "proftpd"),
    "ftps-other": ("ftps", "explicit", "vsftpd"),
    "ftps-other-implicit": ("ftps", "implicit", "vsftpd"),
    "sftp": ("sftp", "", "internal-sftp"),
    "sftp-server": ("sftp", "", "sftp-server"),
}


def run(*words, **more):
    subprocess.run(words, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, **more)


def write(path, text, mode=0o644):
    with open(path, "w", encoding="utf-8") as f:
        f.write(text)
    os.chmod(path, mode)
    return path


def mounts():
    with open("/proc/mounts", encoding="utf-8") as f:
        return [line.split()[1] for line in f]


def _uncover(path):
    """Take away what an earlier call has mounted over it."""
    if path in mounts():
        run("umount", path)


def _mount_users(folder, password):
    """One more user, for this mount namespace alone; the servers' own users are kept."""
    crypted = subprocess.run(["openssl", "passwd", "-6", "-stdin"], input=password, text=True, check=True,
                             stdout=subprocess.PIPE).stdout.strip()
    lines = {
        "passwd": f"{USER}:x:{UID}:{UID}::{folder}:/bin/sh\n",
        "shadow": f"{USER}:{crypted}:19000::::::\n",
        "group": f"{USER}:x:{UID}:\n",
    }
    for name, line in lines.items():
        _uncover(f"/etc/{name}")
        with open(f"/etc/{name}", encoding="utf-8") as f:
            text = f.read()
        if not text.endswith("\n"):
            text += "\n"
        write(f"{folder}/{name}", text + line, 0o600 if name == "shadow" else 0o644)
        run("mount", "--bind", f"{folder}/{name}", f"/etc/{name}")
    os.makedirs(f"{folder}/pam.d", exist_ok=True)
    write(f"{folder}/pam.d/vsftpd", "auth required pam_unix.so\naccount required pam_unix.so\n")
    write(f"{folder}/pam.d/other", "auth required pam_deny.so\naccount required pam_deny.so\n")
    _uncover("/etc/pam.d")
    run("mount", "--bind", f"{folder}/pam.d", "/etc/pam.d")


def _certificates(folder):
    """An authority, and certificates of one key: good, with another name, run out; and one of somebody else."""
    def authority(name):
        run("openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes",
            "-days", "2", "-subj", f"/CN={name}", "-keyout", f"{folder}/{name}.key", "-out", f"{folder}/{name}.pem")

    def certificate(name, ca, san, start, end):
        write(f"{folder}/{name}.ext", f"subjectAltName={san}\nbasicConstraints=CA:FALSE\n")
        write(f"{folder}/{name}.cnf", "[ca]\ndefault_ca=d\n[d]\n" + "".join(
            f"{k}={v}\n" for k, v in {
                "database": f"{folder}/{name}.index", "new_certs_dir": folder, "rand_serial": "yes",
                "default_md": "sha256", "policy": "p", "unique_subject": "no"}.items()) + "[p]\ncommonName=supplied\n")
        write(f"{folder}/{name}.index", "")
        run("openssl", "ca", "-batch", "-notext", "-config", f"{folder}/{name}.cnf", "-cert", f"{folder}/{ca}.pem",
            "-keyfile", f"{folder}/{ca}.key", "-in", f"{folder}/server.csr", "-out", f"{folder}/{name}.pem",
            "-extfile", f"{folder}/{name}.ext", "-startdate", start, "-enddate", end)

    authority("ca")
    authority("otherca")
    run("openssl", "req", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes", "-subj",
        "/CN=server", "-keyout", f"{folder}/server.key", "-out", f"{folder}/server.csr")
    certificate("good", "ca", "IP:127.0.0.1", "20200101000000Z", "20990101000000Z")
    certificate("othername", "ca", "DNS:lathe9.example.net", "20200101000000Z", "20990101000000Z")
    certificate("ranout", "ca", "IP:127.0.0.1", "20200101000000Z", "20200201000000Z")


def _keys(folder):
    for name, kind in (("host-ecdsa", "ecdsa"), ("host-new", "ecdsa"), ("host-ed25519", "ed25519"), ("host-rsa", "rsa"),
                       ("client", "ed25519"), ("client-ecdsa", "ecdsa"), ("client-rsa", "rsa"), ("stranger", "ed25519")):
        run("ssh-keygen", "-q", "-t", kind, "-N", "", "-C", "", "-f", f"{folder}/{name}")
    with open(f"{folder}/allowed", "w", encoding="utf-8") as f:
        for name in ("client", "client-ecdsa", "client-rsa"):
            with open(f"{folder}/{name}.pub", encoding="utf-8") as key:
                f.write(key.read())
    os.chmod(f"{folder}/allowed", 0o644)


def prepare(folder, password):
    os.makedirs(f"{folder}/empty", exist_ok=True)
    os.chmod(f"{folder}/empty", 0o755)
    os.makedirs("/run/sshd", mode=0o755, exist_ok=True)
    _mount_users(folder, password)
    _certificates(folder)
    _keys(folder)


def host_pin(folder, key):
    out = subprocess.run(["ssh-keygen", "-l", "-f", f"{folder}/{key}.pub"], check=True, text=True, stdout=subprocess.PIPE)
    return out.stdout.split()[1]


def certificate_pin(folder):
    key = subprocess.run(["openssl", "x509", "-in", f"{folder}/good.pem", "-pubkey", "-noout"], check=True,
                         stdout=subprocess.PIPE).stdout
    der = subprocess.run(["openssl", "pkey", "-pubin", "-outform", "der"], input=key, check=True,
                         stdout=subprocess.PIPE).stdout
    raw = subprocess.run(["openssl", "dgst", "-sha256", "-binary"], input=der, check=True, stdout=subprocess.PIPE).stdout
    b64 = subprocess.run(["base64"], input=raw, check=True, stdout=subprocess.PIPE).stdout.decode().strip()
    return "sha256//" + b64


# --- Command lines. o: certificate; rate, bytes a second; denied, commands; host, its key's name; tls, when it does
# otherwise than it should; clients, as many as it takes ---

def _vsftpd(folder, root, port, tls, o):
    lines = {
        "listen": "YES", "listen_address": "127.0.0.1", "listen_port": port, "background": "NO",
        "anonymous_enable": "NO", "local_enable": "YES", "write_enable": "YES", "local_umask": "022",
        "pam_service_name": "vsftpd", "secure_chroot_dir": f"{folder}/empty", "nopriv_user": "nobody",
        "check_shell": "NO", "xferlog_enable": "NO", "use_localtime": "YES", "trans_chunk_size": 8192,
        "ascii_upload_enable": "NO", "ascii_download_enable": "NO",
    }
    if o.get("rate"):
        lines["local_max_rate"] = o["rate"]
    if o.get("clients"):
        lines["max_clients"] = o["clients"]
    if o.get("denied"):
        lines["cmds_denied"] = ",".join(o["denied"].split())
    if tls:
        cert = o.get("certificate", "good")
        lines.update({"ssl_enable": "YES", "rsa_cert_file": f"{folder}/{cert}.pem",
                      "rsa_private_key_file": f"{folder}/server.key", "ssl_ciphers": "HIGH",
                      "implicit_ssl": "YES" if tls == "implicit" else "NO"})
    path = write(f"{folder}/vsftpd.{port}.conf", "".join(f"{k}={v}\n" for k, v in lines.items()))
    return ["vsftpd", path]


def _proftpd(folder, root, port, tls, o):
    modules = next(p for p in (os.environ.get("PROFTPD_MODULES", ""), "/usr/lib/proftpd") if p and os.path.isdir(p))
    text = f"""ServerType standalone
DefaultAddress 127.0.0.1
SocketBindTight on
Port {port}
UseIPv6 off
UseReverseDNS off
User nobody
Group nogroup
PidFile {folder}/proftpd.{port}.pid
ScoreboardFile {folder}/proftpd.{port}.board
ModulePath {modules}
DelayEngine off
WtmpLog off
TransferLog none
UseFtpUsers off
RequireValidShell off
AuthOrder mod_auth_unix.c
AllowOverwrite on
Umask 022
TimesGMT off
ServerIdent off
SystemLog {folder}/proftpd.{port}.log
"""
    if o.get("rate"):
        text += f"TransferRate APPE,STOR,RETR,STOU {int(o['rate']) / 1024:.2f}\n"
    if o.get("clients"):
        text += f"MaxInstances {o['clients']}\n"
    if o.get("denied"):
        text += f"<Limit {o['denied']}>\nDenyAll\n</Limit>\n"
    if tls:
        text += f"""LoadModule mod_tls.c
TLSEngine on
TLSRequired on
TLSProtocol TLSv1.2 TLSv1.3
TLSECCertificateFile {folder}/{o.get("certificate", "good")}.pem
TLSECCertificateKeyFile {folder}/server.key
TLSLog {folder}/tls.{port}.log
"""
        if tls == "implicit":
            text += "TLSOptions UseImplicitSSL\n"
    return ["proftpd", "-n", "-q", "-c", write(f"{folder}/proftpd.{port}.conf", text)]


def _sshd(folder, root, port, program, o):
    server = "internal-sftp"
    if program == "sftp-server":
        server = next(p for p in ("/usr/lib/openssh/sftp-server", "/usr/lib/sftp-server") if os.path.exists(p))
    if o.get("denied"):
        server += f" -P {o['denied']}"
    text = f"""ListenAddress 127.0.0.1
Port {port}
HostKey {folder}/{o.get("host", "host-ecdsa")}
AuthorizedKeysFile {folder}/allowed
PidFile none
UsePAM no
UseDNS no
StrictModes no
PasswordAuthentication yes
LogLevel VERBOSE
Subsystem sftp {server}
"""
    return ["/usr/sbin/sshd", "-D", "-e", "-f", write(f"{folder}/sshd.{port}.conf", text)]


def _only_tls_1_3(folder):
    return write(f"{folder}/tls-1.3.cnf", "openssl_conf = a\n[a]\nssl_conf = b\n[b]\nsystem_default = c\n"
                 "[c]\nMinProtocol = TLSv1.3\n")


def command(kind, folder, root, port, o):
    _, tls, program = KINDS[kind]
    tls = "" if o.get("tls") == "none" else o.get("tls", tls)
    if program == "vsftpd":
        words = _vsftpd(folder, root, port, tls, o)
        return words if kind != "ftps-1.3" else ["env", f"OPENSSL_CONF={_only_tls_1_3(folder)}"] + words
    if program == "proftpd":
        return _proftpd(folder, root, port, tls, o)
    return _sshd(folder, root, port, program, o)


# --- Processes ---

def tree(pid):
    """It and all that it started, and so on."""
    parent = {}
    for name in os.listdir("/proc"):
        if name.isdigit():
            try:
                with open(f"/proc/{name}/stat", encoding="utf-8", errors="replace") as f:
                    parent[int(name)] = int(f.read().rsplit(")", 1)[1].split()[1])
            except (FileNotFoundError, ProcessLookupError):
                pass
    found = [pid]
    for p in found:
        found += [c for c, of in parent.items() if of == p]
    return found


def signal_all(pids, number):
    for p in pids:
        try:
            os.kill(p, number)
        except ProcessLookupError:
            pass


def listens(port):
    with open("/proc/net/tcp", encoding="ascii") as f:
        return any(line.split()[1] == f"0100007F:{port:04X}" and line.split()[3] == "0A" for line in f.readlines()[1:])


class Server:
    def __init__(self, kind, folder, root, port):
        self.kind, self.folder, self.root, self.port = kind, folder, root, port
        self.scheme, self.tls, self.program = KINDS[kind]
        self.process = self.slow = None
        self.front = port

    def start(self, **o):
        """rate: for the programs' bytes, by the server's own option, or else by a proxy in front of it."""
        rate = o.get("rate")
        self.front = self.port
        if rate and self.scheme == "sftp":
            self.front = self.port + 1
            self.slow = subprocess.Popen([sys.executable, f"{HERE}/remote_slow.py", str(self.front), str(self.port), str(rate)])
        words = command(self.kind, self.folder, self.root, self.port, o)
        with open(f"{self.folder}/{self.kind}.log", "ab") as log:
            self.process = subprocess.Popen(words, stdin=subprocess.DEVNULL, stdout=log, stderr=log, start_new_session=True)
        end = time.monotonic() + 10
        while not listens(self.port) or not listens(self.front):
            if time.monotonic() > end or self.process.poll() is not None:
                raise RuntimeError(f"{self.kind} does not start: see {self.folder}/{self.kind}.log")
            time.sleep(0.02)

    def freeze(self):
        for _ in range(2):  # what was started meanwhile
            signal_all(tree(self.process.pid), signal.SIGSTOP)

    def thaw(self):
        signal_all(tree(self.process.pid), signal.SIGCONT)

    def kill_sessions(self):
        """The processes of those who are logged in, and not the one that listens."""
        signal_all(tree(self.process.pid)[1:], signal.SIGKILL)

    def kill(self):
        if not self.process:
            return
        self.freeze()
        pids = tree(self.process.pid)
        signal_all(pids, signal.SIGKILL)
        self.process.wait()
        end = time.monotonic() + 5
        while any(os.path.exists(f"/proc/{p}") and _alive(p) for p in pids) and time.monotonic() < end:
            time.sleep(0.005)
        self.process = None
        if self.slow:
            self.slow.kill()
            self.slow.wait()
            self.slow = None


def _alive(pid):
    try:
        with open(f"/proc/{pid}/stat", encoding="utf-8", errors="replace") as f:
            return f.read().rsplit(")", 1)[1].split()[0] != "Z"
    except (FileNotFoundError, ProcessLookupError):
        return False


if __name__ == "__main__":
    if sys.argv[1] == "prepare":
        prepare(sys.argv[2], sys.stdin.read())
        sys.exit()
    kind_, folder_, root_, port_ = sys.argv[1:5]
    words_ = command(kind_, folder_, root_, int(port_), dict(w.split("=", 1) for w in sys.argv[5:]))
    os.execvp(words_[0], words_)
