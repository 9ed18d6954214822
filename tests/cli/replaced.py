# SPDX-License-Identifier: Apache-2.0
"""The job's file goes away, is replaced or cannot grow while the workbench has it open: nothing is acknowledged that is not kept,
what happened is said, and a job that came in its place stays as it is."""

import os
import re
import shutil
import sqlite3
import subprocess
import sys
import time
import tempfile
from pathlib import Path

from session import program
from workbench import Site, Workbench, until

failures = []
GONE = re.compile(r"\b(removed|moved|replaced|deleted|gone|no longer|not there|missing|another file|written over)\b", re.IGNORECASE)
FULL = re.compile(r"disk is full|no space|disk did not take", re.IGNORECASE)


def expect(holds, words):
    if not holds:
        failures.append(words)
    return holds


def plain(page):
    return " ".join(re.sub(r"<[^>]*>", " ", re.sub(r"<(script|style).*?</\1>", " ", page, flags=re.S)).split())


def refused(bench, what):
    """No kind of change is acknowledged, and the answers say what happened."""
    changes = (("/link/note", {"id": bench.site.links[0], "text": f"after: {what}", "key": "after"}),
               ("/people", {"name": "Lea", "role": "technician"}),
               ("/reference/event", {"reference": "R-1", "event": "launch-cord-left-source", "note": what}))
    for path, fields in changes:
        status, text = bench.post(path, **fields)
        if expect(status >= 400, f"{what}: {path} is acknowledged with {status}"):
            expect(GONE.search(plain(text)), f"{what}: {path}: the error ({status}) does not say what happened: {plain(text)[:300]}")
            expect("bug in guidepin" not in text, f"{what}: {path}: it says that it is a bug")
    for path in ("/", "/links"):
        # The workbench looks at its file three times a second; a page that was made just before is shown as it was.
        until = time.monotonic() + 5
        _, text = bench.get(path)
        while not GONE.search(plain(text)) and time.monotonic() < until:
            time.sleep(0.1)
            _, text = bench.get(path)
        expect(GONE.search(plain(text)), f"{what}: page {path} does not say what happened")


class Case:
    """A site whose job stands in a folder of its own, and another job beside it."""

    def __init__(self, base, template, name):
        self.site = Site(program(), Path(base) / name)
        self.site.job = self.site.folder / "jobs" / "hall.guidepin"
        self.site.job.parent.mkdir()
        shutil.copy(template, self.site.job)
        self.other = self.site.folder / "other.guidepin"
        shutil.copy(template, self.other)


def case(base, template, name, act, whole=None):
    """Serves, keeps three notes, lets `act` happen; then nothing more may be acknowledged. `whole` has to stay a whole job."""
    here = Case(base, template, name)
    with Workbench(here.site, job=here.site.job) as bench:
        kept = [f"before {i}" for i in range(3)]
        for text in kept:
            expect(bench.note(text), f"{name}: {text} is not taken: {bench.last[:200]}")
        act(here)
        refused(bench, name)
        code = bench.end(2)
        expect(code in (0, 4), f"{name}: serve ends with {code}: {bench.complaint[:300]}")
    if whole:
        path, notes = whole(here)
        expect(here.site.check_job(path) == "", f"{name}: {path.name}: {here.site.check_job(path)}")
        there = here.site.notes(path)
        if notes:
            expect(all(there.count(text) == 1 for text in kept), f"{name}: notes acknowledged before are lost: {there}")
        else:
            expect(there == [], f"{name}: notes of one job went into another: {there}")
        expect(not any("after" in text for text in there), f"{name}: what was refused is there: {there}")
    print(f"replaced: {name}: tried")


def full_disk(base, template):
    """A small disk of its own."""
    disk = Path(base) / "disk"
    disk.mkdir()
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=8m", "guidepin-small", str(disk)], capture_output=True, text=True, check=False)
    if mounted.returncode != 0:
        print(f"replaced: full disk: NOT TRIED, no small disk can be mounted here: {mounted.stderr.strip()}")
        return
    try:
        site = Site(program(), Path(base) / "full")
        site.job = disk / "hall.guidepin"
        shutil.copy(template, site.job)
        kept, refusals = [], []
        with Workbench(site, job=site.job) as bench:
            expect(bench.note("before"), f"full disk: a note is not taken: {bench.last[:200]}")
            kept.append("before")
            filler = disk / "filler"
            file = os.open(filler, os.O_WRONLY | os.O_CREAT)
            try:
                while os.write(file, bytes(4096)):
                    pass
            except OSError:
                pass
            finally:
                os.close(file)
            for number in range(40):
                text = f"{number} " + "x" * 3900
                (kept if bench.note(text) else refusals).append(text)
                if text in refusals:
                    expect(FULL.search(plain(bench.last)), f"full disk: the error does not say so: {plain(bench.last)[:300]}")
            expect(refusals, "full disk: 40 notes were acknowledged on a full disk")
            status, _ = bench.get("/links")
            expect(status == 200, f"full disk: a page ends with {status}")
            filler.unlink()
            expect(bench.note("there is room again"), f"full disk: no note is taken once there is room: {plain(bench.last)[:200]}")
            kept.append("there is room again")
            bench.end(2)
        expect(site.check_job(site.job) == "", f"full disk: {site.check_job(site.job)}")
        there = site.notes(site.job)
        expect(all(there.count(text) == 1 for text in kept), "full disk: an acknowledged note is not there")
        expect(not any(text in there for text in refusals), "full disk: a note that was refused is there")
        print(f"replaced: full disk: {len(kept)} notes kept, {len(refusals)} refused")
    finally:
        subprocess.run(["umount", str(disk)], check=False)


def copied_alone(base, template):
    """The job file without its log: the copy holds all of it, or says what is missing."""
    here = Case(base, template, "copied")
    site = here.site
    with Workbench(site, job=site.job) as bench:
        kept = [f"note {i}" for i in range(20)]
        for text in kept:
            expect(bench.note(text), f"copied alone: {text} is not taken")
        bench.kill()
    copy = site.folder / "copy.guidepin"
    shutil.copy(site.job, copy)
    done = site.run("check", str(copy))
    there = site.notes(copy)
    whole = done.returncode == 0 and all(there.count(text) == 1 for text in kept)
    said = "-wal" in done.stdout + done.stderr
    expect(whole or said, f"copied alone: check ends with {done.returncode} and {len(there)} of 20 notes, and does not say that "
                          f"the file was copied without its -wal: {done.stdout.strip()} {done.stderr.strip()}")
    expect(site.check_job(site.job) == "" and len(site.notes(site.job)) == 20, "copied alone: the job itself does not hold")
    if said:
        for words in (("explain",), ("export", "records"), ("rebuild",), ("verdicts", "--all")):
            done = site.run(words[0], str(copy), *words[1:])
            expect("-wal" in done.stderr, f"copied alone: {words[0]} does not caution: {done.stderr.strip()}")
    print(f"replaced: copied alone: {len(there)} of 20 notes in the copy, said: {said}")


def two_names(base, template):
    """Who opens a job by another name while it is served is refused: SQLite would keep a log for each name."""
    here = Case(base, template, "two names")
    site = here.site
    link = site.job.parent / "link.guidepin"
    with Workbench(site, job=site.job) as bench:
        expect(bench.note("first"), f"two names: the first note is not taken: {bench.last[:200]}")
        os.link(site.job, link)
        for words in (("check",), ("rebuild",), ("verdicts", "--all")):
            done = site.run(words[0], str(link), *words[1:])
            expect(done.returncode == 3 or done.returncode == 4, f"two names: {words[0]} ends with {done.returncode}")
            expect("another name" in done.stderr, f"two names: {words[0]} does not say why: {done.stderr.strip()}")
        expect(bench.note("second"), f"two names: the second note is not taken: {bench.last[:200]}")
        bench.end(2)
    there = site.notes(site.job)
    expect(site.check_job(site.job) == "" and sorted(there) == ["first", "second"], f"two names: {there}")
    expect(site.check_job(link) == "", "two names: the other name cannot be used once nobody has the job open")
    print("replaced: two names: tried")


def nobody_reads_the_terminal(base, template):
    """A pipe that is full keeps nobody waiting: the workbench goes on without its lines on the terminal."""
    here = Case(base, template, "full pipe")
    with Workbench(here.site, job=here.site.job) as bench:
        terminal = os.open(f"/proc/{bench.process.pid}/fd/1", os.O_WRONLY | os.O_NONBLOCK)
        try:
            while os.write(terminal, bytes(4096)):
                pass
        except BlockingIOError:
            pass
        finally:
            os.close(terminal)
        here.site.job.rename(here.site.folder / "moved.guidepin")
        refused(bench, "full pipe")
        code = bench.end(2)
        expect(code in (0, 4), f"full pipe: serve ends with {code}: {bench.complaint[:300]}")
    print("replaced: full pipe: tried")


def without_derived_tables(base, template):
    """What follows from the records may be dropped at any time: it is made again."""
    here = Case(base, template, "dropped")
    site = here.site
    for table in ("derived_link", "derived_text"):
        with sqlite3.connect(site.job) as database:
            database.execute(f"drop table {table}")
        database.close()
        done = site.run("verdicts", str(site.job), "--all")
        expect(done.returncode in (0, 1), f"dropped {table}: verdicts ends with {done.returncode}: {done.stderr.strip()}")
        done = site.run("rebuild", str(site.job))
        expect(done.returncode == 0, f"dropped {table}: rebuild ends with {done.returncode}: {done.stderr.strip()}")
        expect(site.check_job(site.job) == "", f"dropped {table}: {site.check_job(site.job)}")
    print("replaced: without derived tables: tried")


def main():
    with tempfile.TemporaryDirectory(prefix="guidepin-replaced-") as base:
        first = Site(program(), Path(base) / "first")
        first.open_job()
        template = Path(base) / "template"
        template.write_bytes(first.job.read_bytes())

        def moved_away(here):
            here.site.job.rename(here.site.folder / "moved.guidepin")

        def gone(ending):
            return lambda here: Path(f"{here.site.job}{ending}").unlink()

        case(base, template, "file removed", gone(""))
        case(base, template, "folder removed", lambda here: shutil.rmtree(here.site.job.parent))
        case(base, template, "file moved away", moved_away)
        case(base, template, "another job moved over it", lambda here: here.other.replace(here.site.job), lambda here: (here.site.job, False))
        case(base, template, "-wal removed", gone("-wal"), lambda here: (here.site.job, False) if not here.site.notes(here.site.job) else (here.site.job, True))
        case(base, template, "-shm removed", gone("-shm"), lambda here: (here.site.job, True))

        def copied_over(here):
            log = Path(f"{here.site.job}-wal")
            until("the log is emptied", lambda: log.stat().st_size == 0, 30)
            time.sleep(1)  # the workbench has looked at the file since
            shutil.copyfile(here.other, here.site.job)

        case(base, template, "another job copied over it", copied_over, lambda here: (here.site.job, False))
        case(base, template, "cut off", lambda here: os.truncate(here.site.job, 65536))
        two_names(base, template)
        nobody_reads_the_terminal(base, template)
        without_derived_tables(base, template)
        full_disk(base, template)
        copied_alone(base, template)
    print("\n".join(failures) if failures else "replaced: nothing was acknowledged that is not kept")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
