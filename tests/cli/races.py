# SPDX-License-Identifier: Apache-2.0
"""A workbench and commands on one job: each note that was acknowledged is there in the end, whatever ends the workbench.

Symptom of 2026: serve, a note, one import at the command line, 20 notes, kill -9: 0 of the 20 were there; after two imports
and Ctrl-C the file was damaged."""

import random
import secrets
import signal
import sys
import tempfile
from pathlib import Path

from session import program
from workbench import Site, Workbench

NOTES = 20


def one_round(site, template, ending, imports, steps):
    """What is wrong after it; `steps` picks when the commands run."""
    site.copy_of_template(template)
    wrong, kept = [], []
    with Workbench(site) as bench:
        def note(text):
            if bench.note(text, key=secrets.token_hex(8)):
                kept.append(text)
            else:
                wrong.append(f"{text} was not taken: {bench.last[:300]}")

        note("before")
        moments = sorted(steps.sample(range(1, NOTES), imports - 1)) if imports > 1 else []
        for number in range(NOTES):
            if number == 0 or number in moments:
                done = site.run("readings", site.job.name, "readings.csv", "--again")
                if done.returncode != 0:
                    wrong.append(f"readings ends with {done.returncode}: {done.stderr.strip()}")
            note(f"note {number}")
        code = bench.end(ending)
        if ending != signal.SIGKILL and code != 0:
            wrong.append(f"serve ends with {code}: {bench.complaint.strip()}")
    if words := site.check_job():
        wrong.append(words)
    there = site.notes()
    lost = [text for text in kept if there.count(text) != 1]
    if lost:
        wrong.append(f"{len(lost)} of {len(kept)} acknowledged notes are not there once: {lost[:5]}")
    tests = sum(record["kind"] == "link-tested" for record in site.records())
    if tests != imports * len(site.links):
        wrong.append(f"{tests} tests of links instead of {imports * len(site.links)}")
    return len(kept), wrong


def main():
    seed = int(sys.argv[1]) if len(sys.argv) > 1 else secrets.randbits(32)
    steps = random.Random(seed)
    failures, acknowledged, rounds = [], 0, 0
    with tempfile.TemporaryDirectory(prefix="guidepin-races-") as folder:
        site = Site(program(), folder)
        site.open_job()
        template = Path(folder) / "template"
        template.write_bytes(site.job.read_bytes())
        for ending in (signal.SIGKILL, signal.SIGTERM, signal.SIGINT):
            for imports in (1, 2):
                rounds += 1
                kept, wrong = one_round(site, template, ending, imports, steps)
                acknowledged += kept
                failures += [f"{ending.name}, {imports} imports: {words}" for words in wrong]
    print("\n".join(failures))
    print(f"races: seed {seed}, {rounds} rounds, {acknowledged} notes acknowledged, {len(failures)} failures")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
