#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""What is hidden in the demo's site is named, by cause and place, and nothing else is.

Truth: demo/site/truth.csv, written by a generator that shares no code with the program. A link that was cleaned and
passes on its retest (N-15) must not be named; the reference that drifts (R-3) must be."""

import csv
import json
import sys

from session import ROOT, Session

# The generator's word for a fault, and ours for its cause.
CAUSE_OF = {
    "dirty-position": "dirty-or-damaged-end-face",
    "macrobend": "macrobend",
    "crossed-pair": "crossed-fibres",
    "wrong-trunk-type": "wrong-trunk-type",
    "dark-fibre": "broken-fibre",
    "mislabelled": "mislabelled-link",
}
DAYS = {1: {"R-1": "1", "R-2": "2"}, 2: {"R-3": "1", "R-4": "2", "R-5": "3"}, 3: {"R-6": "1", "R-8": "3"}}
FAN_OUT = {"R-7": ("1", "4"), "R-9": ("4", "5")}

flaws = []


def expect(holds, what):
    if not holds:
        flaws.append(what)


def run(session, words, allowed=(0,)):
    done = session.run(words)
    expect(done.returncode in allowed, f"{' '.join(words)}: ends with {done.returncode}: {done.stderr.strip()}")
    return done.stdout


def demo_job(session):
    run(session, ["new", "demo.guidepin", "--sheet", "job.toml"])
    run(session, ["schedule", "demo.guidepin", "site/schedule.csv"])
    for day, references in DAYS.items():
        kits = {name: (kit, kit, kit) for name, kit in references.items()}
        if day == 3:
            kits.update({name: (kit, cords, None) for name, (kit, cords) in FAN_OUT.items()})
        for name, (kit, cords, known) in kits.items():
            words = ["reference", "demo.guidepin", f"site/references-day{day}-{name.lower()}.csv", "--source", f"SRC-{kit}",
                     "--meter", f"MTR-{kit}", "--launch", f"L-{cords}", "--tail", f"T-{cords}"]
            run(session, words + (["--substitution", f"X-{known}"] if known else []))
        run(session, ["cord-check", "demo.guidepin", f"site/cord-checks-day{day}.csv"], (0, 1))
        run(session, ["readings", "demo.guidepin", f"site/readings-day{day}.csv"], (0, 1))


def main():
    with Session(["demo/site", "demo/job.toml"]) as session:
        demo_job(session)
        findings = json.loads(run(session, ["explain", "demo.guidepin", "--json"], (1,)))["findings"]
        told = run(session, ["explain", "demo.guidepin", "--links", "N-07"], (1,))
        quiet = run(session, ["explain", "demo.guidepin", "--links", "N-15"], (0,))
        unknown = session.run(["explain", "demo.guidepin", "--links", "N-7"])
    with open(ROOT / "demo/site/truth.csv", newline="", encoding="utf-8") as file:
        truth = list(csv.DictReader(file))
    drifting = {row["link"] for row in truth if row["fault"] == "drifting-reference"}
    wanted = {}
    for row in truth:
        if row["fault"] in CAUSE_OF:
            wanted[row["link"]] = (CAUSE_OF[row["fault"]], row["positions"])
    expect(len(wanted) == 7 and len(drifting) > 10, f"truth.csv names other faults than this test knows: {wanted}")

    for link, (cause, positions) in wanted.items():
        named = [f for f in findings if link in f["links"] and f["reference"] is None]
        expect(len(named) == 1 and named[0]["cause"] == cause, f"{link}: {cause} is wanted, found: {named}")
        if named and cause in ("dirty-or-damaged-end-face", "crossed-fibres", "broken-fibre"):
            expect(named[0]["positions"] == [int(p) for p in positions.split()], f"{link}: positions {named[0]['positions']}")
        if named and cause == "macrobend":
            expect(named[0]["wavelengths"] == [1550] and 1.15 < named[0]["size_db"] < 1.75, f"{link}: {named[0]}")
    drift = [f for f in findings if f["cause"] == "reference-drift"]
    expect(len(drift) == 1 and drift[0]["reference"] == "R-3", f"the drift of R-3 is not named: {drift}")
    # It rises from nothing, so that its first links cannot show it; nothing but links measured after it began is accused.
    expect(drift and set(drift[0]["links"]) <= drifting and len(drift[0]["links"]) >= 8, f"links of the drift: {drift}")
    expect(findings and findings[0]["cause"] == "reference-drift", "what makes many readings worthless does not come first")
    expect(len(findings) == len({c for c, _ in wanted.values()}) + 1, f"{[(f['cause'], f['links']) for f in findings]}")
    expect(len({f["id"] for f in findings}) == len(findings), "two findings have one id")
    expect("position 5" in told and "1 finding" in told, told)
    expect("No finding names these links" in quiet, quiet)
    expect(unknown.returncode == 3 and "N-07" in unknown.stderr, f"N-7: {unknown.returncode} {unknown.stderr}")
    for flaw in flaws:
        print(flaw)
    print(f"{len(findings)} findings, {len(wanted)} links and one reference hidden, {len(flaws)} flaws")
    return 1 if flaws else 0


if __name__ == "__main__":
    sys.exit(main())
