# SPDX-License-Identifier: Apache-2.0
"""A process that has a job open holds its shared lock on the file all the time: the kernel says so.

Symptom of 2026: another program believed that it was the last one, put the log back into the job and removed it; what the
workbench wrote from then on was lost. Cause: a process that opens and closes a file loses all its locks on it (POSIX)."""

import sys
import tempfile
import threading
import time

from session import program
from workbench import Site, Workbench, lock_on, until

failures = []


def expect(holds, words):
    if not holds:
        failures.append(words)


def held(site, bench, what, seconds=0.0, while_running=None):
    """Looks again and again, for `seconds`, or while a thread runs."""
    late = time.monotonic() + seconds
    looks = missing = 0
    while True:
        looks += 1
        # -1: a lock that belongs to an open file; only the workbench has this one open then.
        missing += lock_on(site.job) not in (bench.process.pid, -1)
        if time.monotonic() > late and not (while_running and while_running.is_alive()):
            break
        time.sleep(0.01)
    expect(missing == 0, f"{what}: no lock on the job file in {missing} of {looks} looks")
    print(f"{what}: held in {looks - missing} of {looks} looks")


with tempfile.TemporaryDirectory(prefix="guidepin-locks-") as folder:
    site = Site(program(), folder)
    site.open_job()
    expect(lock_on(site.job) is None, "nobody has the job open, and a lock is there")
    with Workbench(site) as bench:
        held(site, bench, "just started")
        held(site, bench, "idle", 2)

        def enter():
            for i in range(12):
                expect(bench.note(f"note {i}"), f"note {i} was not taken: {bench.last[:300]}")
                bench.get("/findings")

        work = threading.Thread(target=enter)
        work.start()
        held(site, bench, "while it thinks of what was entered", while_running=work)

        def build():
            status, text = bench.post("/hand-over/build")
            expect(status == 303, f"the package is not built: {status} {text[:300]}")
            made = site.folder / f"{site.job.name}-package" / "manifest.json"
            until("the package is there", made.exists, 120)

        work = threading.Thread(target=build)
        work.start()
        held(site, bench, "while it builds a package", while_running=work)

        for words in (("check",), ("verdicts", "--all"), ("findings",), ("export", "records")):
            done = site.run(words[0], site.job.name, *words[1:])
            expect(done.returncode in (0, 1), f"{words[0]} beside it: {done.stderr}")
            held(site, bench, f"after {words[0]} ran beside it")
        for words in (("readings", "readings.csv"), ("rebuild",), ("cord-check", "C-1.csv")):
            done = site.run(words[0], site.job.name, *words[1:])
            expect(done.returncode == 0, f"{words[0]} beside it: {done.stderr}")
            held(site, bench, f"after {words[0]} ran beside it")
        # A file that is looked at before it is brought in is opened too: even when it is the job itself.
        site.run("audit", site.job.name)
        held(site, bench, "after an audit ran beside it", 1)
    expect(lock_on(site.job) is None, "the workbench has ended, and its lock is still there")

print("\n".join(failures) if failures else "locks: the job file was locked all the time")
sys.exit(1 if failures else 0)
