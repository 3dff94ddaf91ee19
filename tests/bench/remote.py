"""Figures of shares on servers: remote.py BUILD FOLDER [ORDERS]; as root, in namespaces of its own (remote.sh).

Each is beside curl, the command, that uploads the same bytes to the same server in the same run, in turns: one
connection where the server allows that, and nothing read back. A figure's line is as figure.sh has it."""
import os
import shutil
import statistics
import subprocess
import sys

sys.path.insert(0, f"{os.path.dirname(os.path.abspath(__file__))}/../peers")
import remote_servers as servers  # noqa: E402

PASSWORD = "sesame"
CHANNELS = {"upper": "CH1", "lower": "CH2"}
KINDS = {"ftp": "vsftpd", "ftps": "proftpd", "sftp": "OpenSSH"}
HUNDRED = 100


class Failed(Exception):
    pass


def figure(name, value, unit, base, what):
    print(f"{name:<28} {value:>10} {unit:<9} {value / base if base else 0:7.3f}  {what}", flush=True)


class Bench:
    def __init__(self, kind, build, folder, number):
        self.kind, self.build, self.keys = kind, build, folder
        self.scratch = f"{folder}/{kind}"
        self.root = f"{self.scratch}/root"
        os.makedirs(self.root)
        self.server = servers.Server(kind, folder, self.root, 2500 + 10 * number)
        for c in CHANNELS.values():
            os.mkdir(f"{self.root}/{c}")
        servers.write(f"{self.root}/HERE", "")
        servers.write(f"{self.scratch}/password", PASSWORD + "\n", 0o600)
        for path in [self.root] + [f"{self.root}/{n}" for n in os.listdir(self.root)]:
            os.chown(path, servers.UID, servers.UID)
        for path in (folder, self.scratch):
            os.chmod(path, 0o755)
        self.how = {
            "ftp": "",
            "ftps": f"ca = {folder}/ca.pem\n",
            "sftp": f"pin = {servers.host_pin(folder, 'host-ecdsa')}\n",
        }[servers.KINDS[kind][0]]
        for name, marker in (("machine", "HERE"), ("other", "NOT-HERE")):
            servers.write(
                f"{self.scratch}/{name}.conf",
                f"[line]\nkind = remote\naddress = {self.server.scheme}://127.0.0.1:{self.server.port}\n"
                f"root = {self.root}\nmarker = {marker}\nuser = {servers.USER}\n"
                f"password = file:{self.scratch}/password\n{self.how}"
                "[line upper]\nfolder = CH1\n[line lower]\nfolder = CH2\n")

    def program(self, size, revision):
        for c in CHANNELS:
            path = f"{self.scratch}/{size}-{revision}.{c}"
            if not os.path.exists(path):
                with open(path, "wb") as out:
                    subprocess.run([f"{self.build}/tests/bench/bench-program", str(size), c, "J5000"], stdout=out, check=True)
                if revision == "D":
                    with open(path, "r+b") as out:
                        text = out.read()
                        out.seek(0)
                        out.write(text.replace(b".5", b".6"))
        return [(c, f"{self.scratch}/{size}-{revision}.{c}") for c in CHANNELS]

    def took(self, *words, status=0):
        """Wall clock and processor seconds, and KiB, of a command that has to end so."""
        r = subprocess.run([f"{self.build}/tests/bench/bench-stopwatch", *words], stdout=subprocess.PIPE,
                           stderr=subprocess.PIPE, stdin=subprocess.DEVNULL, text=True)
        if r.returncode != status:
            raise Failed(f"{self.kind}: {' '.join(words)}: {r.stderr}")
        return tuple(float(x) for x in r.stdout.split())

    def carry(self, size, revision, name="O4417.NC", machine="machine", status=0):
        program = self.program(size, revision)
        return self.took(f"{self.build}/daemon/yoke-carrier", "send", f"{self.scratch}/{machine}.conf",
                         *[w for c, _ in program for w in ("--name", f"{c}={name}")],
                         *[f"{c}={path}" for c, path in program], status=status)

    def login(self):
        """An order that starts, logs in, looks for the marker, which is not there, and ends."""
        return self.carry(1000, "C", machine="other", status=1)

    def check(self, size, revision, name="O4417.NC"):
        for c, path in self.program(size, revision):
            with open(path, "rb") as a, open(f"{self.root}/{CHANNELS[c]}/{name}", "rb") as b:
                if a.read() != b.read():
                    raise Failed(f"{self.kind}: what lies on the server is not what was carried")

    def url(self, path):
        address = f"127.0.0.1:{self.server.port}"
        return f"sftp://{address}{path}" if self.kind == "sftp" else f"ftp://{address}/%2F{path[1:]}"

    def curl_words(self, uploads):
        """curl, told of everything in a file; one connection."""
        lines = ["silent", "show-error", "fail", f'user = "{servers.USER}:{PASSWORD}"']
        if self.kind == "ftps":
            # A second file over one connection wants TLS 1.2 at most: the server asks for the same session.
            lines += ["ssl-reqd", f'cacert = "{self.keys}/ca.pem"', 'tls-max = "1.2"']
        if self.kind == "sftp":
            lines += ["insecure"]
        for path, to in uploads:
            lines += [f'upload-file = "{path}"', f'url = "{self.url(to)}"']
        servers.write(f"{self.scratch}/curl", "\n".join(lines) + "\n", 0o600)
        return ["curl", "-q", "-K", f"{self.scratch}/curl"]

    def upload(self, size, revision, times=1):
        return self.took(*self.curl_words([(path, f"{self.root}/{CHANNELS[c]}/curl{n}.NC") for n in range(times)
                                          for c, path in self.program(size, revision)]))

    def empty(self):
        for c in CHANNELS.values():
            shutil.rmtree(f"{self.root}/{c}")
            os.mkdir(f"{self.root}/{c}")
            os.chown(f"{self.root}/{c}", servers.UID, servers.UID)


def median(rows, column):
    return statistics.median(r[column] for r in rows)


def five_mb(b, turns):
    """A pair of 5 MB, first and over an old pair."""
    size = 2500000
    for which in ("first", "over"):
        ours, theirs = [], []
        b.empty()
        for n in range(turns):
            if which == "first":
                b.empty()
            revision = "CD"[n % 2]
            theirs.append(b.upload(size, revision))
            ours.append(b.carry(size, revision))
            b.check(size, revision)
        if which == "over":  # the first turn found nothing
            ours, theirs = ours[1:], theirs[1:]
        n = len(ours)
        figure(f"{b.kind}-5MB-{which}", round(1000 * median(ours, 0), 1), "ms", 1000 * median(theirs, 0),
               f"curl that uploads the same bytes to {KINDS[b.kind]}, median of {n}; aim 2.2")
        figure(f"{b.kind}-5MB-{which}-processor", round(1000 * median(ours, 1), 1), "ms", 1000 * median(theirs, 1),
               "the same, user+sys")
        figure(f"{b.kind}-5MB-{which}-memory", int(median(ours, 2)), "KiB", median(theirs, 2), "the same, largest")


def hundred(b):
    """100 small pairs in a row, each under a name of its own job: each order is a process with a login of its own."""
    size, ours, theirs, logins = 1000, [], [], []
    b.empty()
    for n in range(HUNDRED):
        if n % 20 == 0:
            theirs.append(b.upload(size, "C", HUNDRED))
        if n % 5 == 0:
            logins.append(b.login())
        ours.append(b.carry(size, "C", f"O{n + 1000}.NC"))
    b.check(size, "C", f"O{1000 + HUNDRED - 1}.NC")
    b.empty()
    wall, login, one = sum(r[0] for r in ours), median(logins, 0), median(theirs, 0)
    figure(f"{b.kind}-100-pairs", round(1000 * wall), "ms", 1000 * one,
           f"one curl that uploads as many bytes in {2 * HUNDRED} files over one connection; aim 1.5")
    figure(f"{b.kind}-100-pairs-each", round(1000 * wall / HUNDRED, 2), "ms", 1000 * login,
           f"an order that starts, logs in and finds no marker, median of {len(logins)}")
    figure(f"{b.kind}-100-pairs-rest", round(1000 * (wall / HUNDRED - login), 2), "ms", 1000 * one / HUNDRED,
           "what is left of an order, beside two files of that one curl")
    figure(f"{b.kind}-100-pairs-processor", round(1000 * median(ours, 1), 1), "ms", 1000 * median(logins, 1),
           "the order that finds no marker, user+sys")
    figure(f"{b.kind}-100-pairs-memory", int(median(ours, 2)), "KiB", median(logins, 2), "the same, largest")


def main(build, folder, turns="7", *kinds):
    servers.prepare(folder, PASSWORD)
    for number, kind in enumerate(k for k in KINDS if not kinds or k in kinds):
        b = Bench(kind, build, folder, number)
        b.server.start()
        try:
            five_mb(b, int(turns))
            hundred(b)
        finally:
            b.server.kill()


if __name__ == "__main__":
    os.umask(0o022)
    main(*sys.argv[1:])
