#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""A finding is acknowledged with a reason, stays, asks again when its evidence changes, and is taken back.

Oracle: what this test does to the readings."""

import datetime
import json
import random
import sys

from audit import START, Site, bring, expect, flaws, guidepin, make, with_dirt
from session import Session

REASON = "The client will have this port re-polished"


def findings(session, *words):
    done = session.run(["findings", "job.guidepin", "--json", *words])
    answer = json.loads(done.stdout)
    expect((done.returncode == 1) == (answer["open"] > 0), f"findings: exit code {done.returncode} with {answer['open']} open")
    return answer


def only(answer, what):
    expect(len(answer["findings"]) == 1, f"{what}: {len(answer['findings'])} findings instead of one")
    return answer["findings"][0]


def main():
    with Session() as session:
        make(session, with_dirt(), report=False)
        first = only(findings(session), "a dirty position")
        expect(first["links"] == ["N-3"] and first["positions"] == [4] and first["acknowledged"] is None, f"{first}")
        short = session.run(["acknowledge", "job.guidepin", first["id"][:8], "--reason", " "])
        expect(short.returncode == 3 and "Say why" in short.stderr, f"no reason: {short.returncode} {short.stderr}")
        unknown = session.run(["acknowledge", "job.guidepin", "0000", "--reason", "x"])
        expect(unknown.returncode == 3 and "findings" in unknown.stderr, f"unknown: {unknown.returncode} {unknown.stderr}")
        early = session.run(["acknowledge", "job.guidepin", first["id"], "--undo", "--reason", "x"])
        expect(early.returncode == 3 and "nothing to take back" in early.stderr, f"undo of nothing: {early.stderr}")

        guidepin(session, "acknowledge", "job.guidepin", first["id"][:8], "--reason", REASON, "--operator", "Mara", allowed=(0,))
        listed = findings(session)
        seen = only(listed, "acknowledged")
        expect(listed["open"] == 0 and listed["acknowledged"] == 1, f"{listed}")
        expect(seen["id"] == first["id"] and seen["acknowledged"]["by"] == "Mara" and seen["acknowledged"]["reason"] == REASON
               and seen["acknowledged"]["changed"] == [], f"{seen}")
        expect(findings(session, "--open")["findings"] == [], "--open lists an acknowledged finding")
        told = guidepin(session, "explain", "job.guidepin").stdout
        expect(f"Acknowledged by Mara" in told and REASON in told, told)

        # The same place measured again, worse by a decibel: the evidence is another one.
        rows = Site.link("N-3", 61, START + datetime.timedelta(minutes=70), random.Random(5))
        for row in rows:
            if row["position"] == 4:
                row["attenuation_db"] = round(row["attenuation_db"] + 2.5, 2)
        bring(session, "again.csv", rows, "readings", "job.guidepin")
        listed = findings(session)
        asks = only(listed, "measured again")
        expect(listed["open"] == 1 and asks["id"] == first["id"] and len(asks["acknowledged"]["changed"]) >= 1
               and "size" in asks["acknowledged"]["changed"][0], f"{asks}")
        expect("Open again, because of" in guidepin(session, "findings", "job.guidepin").stdout, "the text does not say that it is open again")

        guidepin(session, "acknowledge", "job.guidepin", first["id"], "--reason", "still so", allowed=(0,))
        expect(findings(session)["open"] == 0, "acknowledged anew, and open")
        guidepin(session, "acknowledge", "job.guidepin", first["id"], "--undo", "--reason", "the client changed their mind", allowed=(0,))
        back = only(findings(session), "taken back")
        expect(back["acknowledged"] is None and findings(session)["open"] == 1, f"{back}")
        expect(json.loads(guidepin(session, "check", "job.guidepin", "--json").stdout)["holds"], "check: something does not hold")
    for flaw in flaws:
        print(flaw)
    print(f"one finding, acknowledged, asked again, taken back: {len(flaws)} flaws")
    return 1 if flaws else 0


if __name__ == "__main__":
    sys.exit(main())
