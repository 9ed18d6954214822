#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""References, cord checks and readings typed into the workbench, with names that a CSV file has to quote.

Regression: a reference named `R,1`, brought in as a file, made a cord check typed for it fail with status 422, "line 2: has 8 fields
where the header has 7", because what was typed went through CSV text. Oracle: the names that this test gives; the records."""

import secrets
import sys
import tempfile

from session import program
from workbench import Site, Workbench

NAMES = ("R,1", 'R"2"', "R;3\t4", "=R+5", "'=R", "@6", "R'7")


def expect(holds, words):
    if not holds:
        raise SystemExit(words)


def quoted(name):
    return '"' + name.replace('"', '""') + '"'


def typed(prefix, value):
    return {f"{prefix}-850-{p}": value for p in range(1, 13)}


def main():
    with tempfile.TemporaryDirectory(prefix="guidepin-typed-") as folder:
        site = Site(program(), folder)
        site.file("schedule.csv", "link,category,length_m,family,fibres,trunk_type\n" +
                  "".join(f"{quoted('N' + name)},OM4,50,mpo-12,12,B\n" for name in NAMES))
        site.open_job()
        site.file("odd.csv", "reference,position,wavelength_nm,power_dbm,taken_at\n" +
                  "".join(f'"F,1",{p},850,-20.0,2026-03-02T08:00:00Z\n' for p in range(1, 13)))
        done = site.run("reference", site.job.name, "odd.csv", *site.kit)
        expect(done.returncode == 0, f"{done.stdout}{done.stderr}")
        with Workbench(site) as bench:
            def post(path, **fields):
                status, text = bench.post(path, key=secrets.token_hex(8), **fields)
                expect(status == 303, f"{path} {fields.get('id', fields.get('reference'))!r}: {status} {text}")

            post("/reference/type-check", reference="F,1", positions="cabling", **typed("loss", "0.10"))
            for name in NAMES:
                post("/reference/type", id=name, source="S", meter="M", launch="L", tail="T", positions="cabling", **typed("power", "-20.0"))
                post("/reference/type-check", reference=name, positions="cabling", **typed("loss", "0.10"))
                post("/link/readings", id="N" + name, reference=name, end="a", wavelength="850",
                     **{f"loss-{p}": "0.4" for p in range(1, 13)}, **{f"far-{p}": str(13 - p) for p in range(1, 13)})
            status, text = bench.post("/reference/type", key="no key", id="R-9", source="S", meter="M", launch="L", tail="T",
                                      positions="cabling", **typed("power", "-20.0"))
            expect(status >= 400 and "key" in text, f"a key with a space: {status} {text}")
        records = site.records()
        of = lambda kind, member: [record["body"][member] for record in records if record["kind"] == kind]
        expect(of("reference", "reference") == ["R-1", "F,1", *NAMES], of("reference", "reference"))
        expect(of("cord-check", "reference") == ["R-1", "F,1", *NAMES], of("cord-check", "reference"))
        expect(of("link-tested", "link") == ["N" + name for name in NAMES], of("link-tested", "link"))
        under = [group["reference"] for record in records if record["kind"] == "link-tested" for group in record["body"]["readings"]]
        expect(under == list(NAMES), under)
        expect(site.check_job() == "", site.check_job())
    print(f"{len(NAMES)} names typed and kept unchanged")


if __name__ == "__main__":
    sys.exit(main())
