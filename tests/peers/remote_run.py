"""The faults and cuts of a share on each kind of real server: remote_run.py CARRIER FOLDER long|short|cuts
[KIND|CASE]...; as root, in namespaces of its own (remote.sh)."""
import os
import subprocess
import sys
import threading
import time

import remote_cuts
import remote_servers as servers
from remote_bench import PASSWORD, Bench, Wrong
from remote_faults import CASES

SHORT = ("ftp", "ftps", "ftps-1.3", "ftps-other-implicit", "sftp")
failures, counts = [], {}
lock = threading.Lock()


def show(text):
    with lock:
        print(text, flush=True)


def wanted(only, b):
    if not only:
        return True
    return b.kind in only or (b.server.scheme in only and not any("-" in k for k in only))


def one(b, name, f, most):
    began = time.monotonic()
    try:
        b.lay_out()
        o = f(b)
        if o.took > most:
            raise Wrong(f"ended after {o.took:.1f} s, and not within {most} s: {o.text}")
        counts[b.kind] = counts.get(b.kind, 0) + 1
        show(f"{b.kind}: {name}: ended in {o.took:.1f} s: {o.last()}; all in {time.monotonic() - began:.1f} s")
    except (Wrong, RuntimeError, OSError, subprocess.SubprocessError) as e:
        failures.append(f"{b.kind}: {name}")
        show(f"{b.kind}: {name}: FAILED: {e}")
    finally:
        b.server.kill()


def all_of(b, mode, names):
    if mode == "cuts":
        try:
            show(f"{b.kind}: {remote_cuts.run(b, 16)}")
        except (Wrong, RuntimeError, OSError, subprocess.SubprocessError) as e:
            failures.append(f"{b.kind}: cuts")
            show(f"{b.kind}: cuts: FAILED: {e}")
        finally:
            b.server.kill()
        return
    for name, f, most, only, short in CASES:
        now = mode == "long" or (b.kind != "ftps-1.3" if short is True else b.kind in (short or ()))
        if now and wanted(only, b) and (not names or name in names):
            one(b, name, f, most)


def main(carrier, folder, mode, *names):
    kinds = [k for k in servers.KINDS if k in names] or [k for k in servers.KINDS if mode != "short" or k in SHORT]
    cases = [n for n in names if n not in servers.KINDS]
    servers.prepare(folder, PASSWORD)
    benches = [Bench(k, folder, carrier, i + 1) for i, k in enumerate(kinds)]
    for b in benches:
        b.brief = mode == "short" and not cases
    threads = [threading.Thread(target=all_of, args=(b, mode, cases)) for b in benches]
    for t in threads:
        t.start()
    for t in threads:
        t.join()
    for k in kinds if mode != "cuts" else ():
        print(f"{k}: {counts.get(k, 0)} cases well", flush=True)
    if failures:
        print("FAILED: " + "; ".join(failures))
    return 1 if failures else 0


if __name__ == "__main__":
    os.umask(0o022)
    sys.exit(main(*sys.argv[1:]))
