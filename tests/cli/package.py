# SPDX-License-Identifier: Apache-2.0
"""The demo's site from first to last: what is hidden in it is found, and the package reads back, twice the same.

Truth: demo/site/truth.csv, written by the generator that shares no code with the program."""

import csv
import hashlib
import json
import os
import sqlite3
import subprocess
import sys
import tempfile
import zipfile
from pathlib import Path

from session import ROOT, program

GUIDEPIN = str(program())
failures = []


def expect(condition, words):
    if not condition:
        failures.append(words)


def run(*words, allowed=(0,)):
    done = subprocess.run([GUIDEPIN, *words], capture_output=True, text=True, env=environment, check=False)
    expect(done.returncode in allowed, f"{' '.join(words)}: exit code {done.returncode}\n{done.stderr}")
    return done.stdout


with tempfile.TemporaryDirectory(prefix="guidepin-package-") as folder:
    environment = {**os.environ, "XDG_DATA_HOME": f"{folder}/keys", "HOME": folder, "GUIDEPIN_OPERATOR": "Test Person"}
    certified = subprocess.run([str(ROOT / "demo/certify"), GUIDEPIN, folder], capture_output=True, text=True, env=environment, check=False)
    expect(certified.returncode == 0, f"demo/certify: exit code {certified.returncode}\n{certified.stdout}{certified.stderr}")
    job = f"{folder}/demo.guidepin"

    # What came out against what was hidden.
    answer = json.loads(run("verdicts", job, "--all", "--json", allowed=(1,)))
    states = {link["link"]: link for link in answer["links"]}
    expect(len(states) == 150, f"{len(states)} links instead of 150")
    faults = 0
    wanted = {link: "pass" for link in states}
    with open(ROOT / "demo/site/truth.csv", newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            wanted[row["link"]] = {"fail": "fail", "held": "held", "open": "open", "pass": "pass"}[row["expected"].split()[0].rstrip(":")]
            faults += 1
    expect(faults > 20, "truth.csv names too few faults to prove anything")
    for link, state in wanted.items():
        expect(states[link]["state"] == state, f"{link}: {states[link]['state']} instead of {state}: {states[link]['reason']}")
    expect("3 and 4" in states["E-06"]["reason"], f"E-06: the crossed pair is not named: {states['E-06']['reason']}")
    expect(states["N-07"]["worst_position"] == 5, "N-07: the dirty position is not the worst")
    expect(states["W-11"]["worst_wavelength_nm"] == 1550, "W-11: the bend is not seen at 1550 nm")

    # The package: everything there, readable, the same bytes at the same time.
    first, second = Path(folder, "one"), Path(folder, "two")
    for target in (first, second):
        run("report", job, "--out", str(target), "--made", "2026-03-05T09:00:00+01:00")
    names = sorted(p.name for p in first.iterdir())
    expect("summary.pdf" in names and "job.xlsx" in names and "readings.csv" in names, f"package holds only {names}")
    expect(sum(name.startswith("certificates-") for name in names) == 7, "not one file of certificates for each of the seven zones")
    for name in names:
        expect((first / name).read_bytes() == (second / name).read_bytes(), f"{name}: other bytes on a second run")
    summary = subprocess.run(["pdftotext", "-layout", str(first / "summary.pdf"), "-"], capture_output=True, text=True, check=True).stdout
    for words in ("123 of 150 links conform", "N-07", "TIA-568.3-E", "Acceptance", "R-3", "reference drift", "must settle"):
        expect(words in summary, f"summary.pdf does not say \"{words}\"")
    quay = subprocess.run(["pdftotext", "-layout", str(first / "certificates-north-quay.pdf"), "-"], capture_output=True, text=True, check=True).stdout
    for words in ("N-07", "1.47", "fail", "N-28"):
        expect(words in quay, f"certificates-north-quay.pdf does not say \"{words}\"")
    # Another program reads the codes back: each names a record's hash, and the record is in the job.
    read_back = set()
    for sheet in ("summary.pdf", "certificates-north-quay.pdf"):
        subprocess.run(["pdftoppm", "-r", "150", "-gray", "-l", "6", str(first / sheet), f"{folder}/page-{sheet}"], check=True)
    for page in sorted(Path(folder).glob("page-*.pgm")):
        seen = subprocess.run(["zbarimg", "--quiet", "--raw", str(page)], capture_output=True, text=True, check=False).stdout.split()
        read_back.update(code for code in seen if code.startswith("GUIDEPIN:SHA256:"))
    expect(len(read_back) >= 4, f"only {len(read_back)} QR codes were read back")
    with sqlite3.connect(job) as opened:
        kept = {bytes(value).hex() if isinstance(value, bytes) else value for (value,) in opened.execute("select hash from record")}
    digest = json.loads(run("check", job, "--json"))["digest"]
    for code in read_back:
        named = code.removeprefix("GUIDEPIN:SHA256:").lower()
        expect(named in kept or named == digest, f"no record has the hash of the QR code {code}")
    expect(digest in "".join(summary.split()), "summary.pdf does not print the digest of all records")
    fonts = subprocess.run(["pdffonts", str(first / "summary.pdf")], capture_output=True, text=True, check=True).stdout.splitlines()[2:]
    expect(fonts and all(" yes " in line for line in fonts), "summary.pdf: a font is not embedded")
    with zipfile.ZipFile(first / "job.xlsx") as workbook:
        expect(workbook.testzip() is None and any("sheet1" in n for n in workbook.namelist()), "job.xlsx is no whole workbook")
    with open(first / "readings.csv", newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    expect(len(rows) == 2160, f"readings.csv has {len(rows)} rows instead of 2160")

    # The manifest names every other file with its hash; a reviewer who has nothing but the folder finds what was hidden.
    manifest = json.loads((first / "manifest.json").read_text(encoding="utf-8"))
    listed = {file["name"]: file["sha256"] for file in manifest["manifest"]["files"]}
    expect(sorted(listed) == sorted(set(names) - {"manifest.json"}), f"manifest.json names {sorted(listed)}")
    for name, sha256 in listed.items():
        expect(hashlib.sha256((first / name).read_bytes()).hexdigest() == sha256, f"{name}: not the hash that manifest.json says")
    audit = json.loads(run("audit", str(first), "--json"))
    found = {finding["rule"]: set(finding["links"]) for finding in audit["findings"]}
    expect(audit["refutes"] == 0 and audit["signed_by"] is not None, f"audit: {audit['findings'][:1]}")
    expect(found.get("link-not-tested") == {"V-11", "V-12", "K-13", "K-14", "MU2-09"}, f"audit, not tested: {found.get('link-not-tested')}")
    expect(found.get("failure-tested-away") == {"N-15"}, f"audit, tested away: {found.get('failure-tested-away')}")
    expect(found.get("mislabelled-link") == {"S-17", "S-18"}, f"audit, labels: {found.get('mislabelled-link')}")
    expect("reference-drift" in found and found["reference-drift"] <= {link for link, state in wanted.items() if state == "held"},
           f"audit, drift: {found.get('reference-drift')}")
    expect("too-fast" not in found and "record-changed" not in found, f"audit finds what is not there: {sorted(found)}")

    # Over the older package: the same again, with nothing beside it. What does not belong to it is named and not lost.
    run("report", job, "--out", f"{second}/", "--made", "2026-03-05T09:00:00+01:00")
    expect(sorted(p.name for p in second.iterdir()) == names, "over an older package there are other files")
    expect(all((first / name).read_bytes() == (second / name).read_bytes() for name in names), "over an older package there are other bytes")
    (second / "letter.txt").write_text("mine", encoding="utf-8")
    refused = subprocess.run([GUIDEPIN, "report", job, "--out", str(second)], capture_output=True, text=True, env=environment, check=False)
    expect(refused.returncode == 3 and "letter.txt" in refused.stderr, f"a stranger's file: exit code {refused.returncode}: {refused.stderr}")
    expect((second / "letter.txt").exists() and (second / "manifest.json").read_bytes() == (first / "manifest.json").read_bytes(),
           "a stranger's file: the folder was changed")
    for place, code, word in ((".", 3, "work in"), ("/proc/package", 4, "/proc")):
        odd = subprocess.run([GUIDEPIN, "report", job, "--out", place], capture_output=True, text=True, env=environment, check=False, cwd=folder)
        expect(odd.returncode == code and word in odd.stderr, f"--out {place}: exit code {odd.returncode}: {odd.stderr}")
    expect([p.name for p in Path(folder).iterdir() if ".part-" in p.name or p.name.endswith(".older")] == [], "something is left beside the packages")

    # Records hold, and derived tables are what the records say.
    expect(json.loads(run("check", job, "--json"))["holds"], "check: something does not hold")
    expect(json.loads(run("rebuild", job, "--json"))["same_as_before"], "rebuild gave other bytes")

print("\n".join(failures) if failures else "package: 150 links as the truth says, package whole and the same twice")
sys.exit(1 if failures else 0)
