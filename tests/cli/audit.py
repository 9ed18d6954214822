#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""The audit: a sound package breaks no rule but those it must; then a job or package that breaks each rule once.

Oracle: what each case does to it. Every rule of docs/schemas/audit.json has a case here, or is named below with the place of
its test. Readings are dated three hours before now, since a record cannot be younger than what it holds."""

import concurrent.futures
import csv
import datetime
import io
import json
import random
import shutil
import sys

from session import ROOT, Session

flaws = []
ELSEWHERE = {
    # What a command cannot do is done in tests/unit/job/audit_cases.cpp.
    "rules-changed-after-test", "import-withdrawn", "clock-went-back", "taken-after-recorded",
}
NOW = datetime.datetime.now(datetime.timezone.utc).replace(microsecond=0)
START = NOW - datetime.timedelta(hours=3)


def stamp(moment):
    return moment.strftime("%Y-%m-%dT%H:%M:%SZ")


def day(shift):
    return (NOW + datetime.timedelta(days=shift)).strftime("%Y-%m-%d")


def expect(holds, what):
    if not holds:
        flaws.append(what)


def csv_text(rows):
    out = io.StringIO()
    writer = csv.DictWriter(out, list(rows[0]))
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


class Site:
    """Four links, one reference, its cord check and readings; a case changes what it wants before anything is brought in."""

    def __init__(self):
        dice = random.Random(7)
        self.rules = "wavelengths-multimode = [850, 1300]\n"
        self.meter = f"calibrated = {day(-100)}\ncalibration-due = {day(200)}\n"
        self.kit = ["--source", "S", "--meter", "M", "--launch", "L", "--tail", "T"]
        self.links = [{"link": f"N-{i}", "zone": "North", "category": "OM4", "length_m": 40 + 7 * i, "family": "mpo-12",
                       "fibres": 12, "trunk_type": "B"} for i in range(1, 5)]
        self.powers = [{"reference": "R-1", "position": p, "wavelength_nm": w, "power_dbm": -20.0 - 0.01 * p,
                        "taken_at": stamp(START)} for w in (850, 1300) for p in range(1, 13)]
        self.check = self.cord_check("C-1", 10, 0.1)
        self.readings = []
        for i in range(1, 5):
            at = START + datetime.timedelta(minutes=20 + 5 * i)
            self.readings += self.link(f"N-{i}", 40 + 7 * i, at, dice)

    def cord_check(self, name, minutes, loss):
        at = stamp(START + datetime.timedelta(minutes=minutes))
        return [{"check": name, "reference": "R-1", "position": p, "far_position": p, "wavelength_nm": w,
                 "attenuation_db": loss, "taken_at": at} for w in (850, 1300) for p in range(1, 13)]

    @staticmethod
    def link(name, length, at, dice, loss=0.4):
        rows = []
        for wavelength in (850, 1300):
            for position in range(1, 13):
                rows.append({"link": name, "launch_end": "a", "position": position, "far_position": 13 - position,
                             "wavelength_nm": wavelength, "attenuation_db": round(loss + dice.gauss(0, 0.05), 2),
                             "length_m": round(length + dice.gauss(0, 0.1), 1), "taken_at": stamp(at), "reference": "R-1",
                             "operator": "Ines"})
        return rows

    def sheet(self):
        return ("[rules]\n" + self.rules + f"[[instrument]]\nid = \"S\"\nrole = \"source\"\ncalibration-due = {day(200)}\n"
                "[[instrument]]\nid = \"M\"\nrole = \"meter\"\n" + self.meter +
                "[[cord]]\nid = \"L\"\nrole = \"launch\"\n[[cord]]\nid = \"T\"\nrole = \"tail\"\n")


def guidepin(session, *words, allowed=(0, 1)):
    done = session.run(list(words))
    expect(done.returncode in allowed, f"{' '.join(words)}: ends with {done.returncode}: {done.stderr.strip()}")
    return done


def bring(session, name, rows, *words):
    (session.folder / name).write_text(csv_text(rows), encoding="utf-8")
    guidepin(session, *words[:2], name, *words[2:])


def make(session, site, report=True):
    (session.folder / "job.toml").write_text(site.sheet(), encoding="utf-8")
    guidepin(session, "new", "job.guidepin", "--sheet", "job.toml", allowed=(0,))
    bring(session, "schedule.csv", site.links, "schedule", "job.guidepin")
    bring(session, "reference.csv", site.powers, "reference", "job.guidepin", *site.kit)
    if site.check:
        bring(session, "check.csv", site.check, "cord-check", "job.guidepin")
    bring(session, "readings.csv", site.readings, "readings", "job.guidepin")
    if report:
        guidepin(session, "report", "job.guidepin", "--out", "package", allowed=(0,))


def audited(session, target):
    done = session.run(["audit", target, "--json"])
    expect(done.returncode in (0, 1), f"audit {target}: ends with {done.returncode}: {done.stderr.strip()}")
    answer = json.loads(done.stdout)
    expect((done.returncode == 1) == (answer["refutes"] > 0), f"audit {target}: {answer['refutes']} refute, exit code {done.returncode}")
    for weight in ("refutes", "weakens", "notes"):
        expect(answer[weight] == sum(f["weight"] == weight for f in answer["findings"]), f"audit {target}: wrong count of {weight}")
    order = [("refutes", "weakens", "notes").index(f["weight"]) for f in answer["findings"]]
    expect(order == sorted(order), f"audit {target}: not ordered by weight")
    return answer


# Changes of a finished package.

def swap(session, name, old, new, count=1):
    path = session.folder / "package" / name
    text = path.read_text(encoding="utf-8")
    expect(old in text, f"{name} does not hold {old!r}")
    path.write_bytes(text.replace(old, new, count).encode())


def change_table(session, column, value):
    """One cell of the CSV tables that has this column."""
    for name in ("readings.csv", "links.csv"):
        path = session.folder / "package" / name
        lines = path.read_bytes().decode().split("\r\n")
        head = lines[0].split(",")
        if column not in head:
            continue
        cells = lines[2].split(",")
        cells[head.index(column)] = value
        lines[2] = ",".join(cells)
        path.write_bytes("\r\n".join(lines).encode())
        return
    flaws.append(f"no table has a column {column}")


def cut_records(session):
    """The last change of the chain goes, with the head that signed it: what is left holds."""
    path = session.folder / "package" / "records.jsonl"
    lines = path.read_text(encoding="utf-8").splitlines()
    heads = sorted(json.loads(line)["sequence"] for line in lines if "guidepin chain head" in line)
    kept = []
    for line in lines:
        entry = json.loads(line)
        if entry.get("sequence", 0) <= heads[-2]:
            kept.append(line)
    path.write_text("\n".join(kept) + "\n", encoding="utf-8")


# Cases: name of the rule -> (change of the site, change of the package or job, links that it has to name).

def no_site(_site):
    pass


def site_case(change):
    return lambda session: (lambda site: (change(site), make(session, site)))(Site())


def package_case(change):
    def run(session):
        make(session, Site())
        change(session)
    return run


def drop_position(site):
    site.readings = [r for r in site.readings if not (r["link"] == "N-2" and r["position"] == 12 and r["wavelength_nm"] == 850)]


def shift_readings(site, minutes):
    for row in site.readings:
        row["taken_at"] = stamp(datetime.datetime.fromisoformat(row["taken_at"].replace("Z", "+00:00")) + datetime.timedelta(minutes=minutes))


def retest(site, first_loss):
    dice = random.Random(3)
    site.readings += Site.link("N-2", 54, START + datetime.timedelta(minutes=22), dice, loss=first_loss)


def hurry(site):
    for row in site.readings:
        row["taken_at"] = stamp(START + datetime.timedelta(minutes=20, seconds=10 * int(row["link"][2:])))


def without_times(site):
    for row in site.readings:
        row["taken_at"] = ""


def copy_link(site):
    values = {(r["wavelength_nm"], r["position"]): r["attenuation_db"] for r in site.readings if r["link"] == "N-2"}
    for row in site.readings:
        if row["link"] == "N-3":
            row["attenuation_db"] = values[row["wavelength_nm"], row["position"]]


def changed_schedule(session):
    make(session, Site(), report=False)
    site = Site()
    site.links[1]["length_m"] = 90
    bring(session, "schedule-2.csv", site.links, "schedule", "job.guidepin")
    guidepin(session, "report", "job.guidepin", "--out", "package", allowed=(0,))


def voided(session):
    site = Site()
    (session.folder / "job.toml").write_text(site.sheet(), encoding="utf-8")
    make(session, site, report=False)
    guidepin(session, "reference-event", "job.guidepin", "launch-cord-left-source", "--reference", "R-1",
             "--at", stamp(START + datetime.timedelta(minutes=12)))
    guidepin(session, "report", "job.guidepin", "--out", "package", allowed=(0,))


def event_for_nothing(session):
    site = Site()
    make(session, site, report=False)
    guidepin(session, "reference-event", "job.guidepin", "launch-cord-left-source", "--reference", "R-77",
             "--at", stamp(START + datetime.timedelta(minutes=12)))
    guidepin(session, "report", "job.guidepin", "--out", "package", allowed=(0,))


def second_check(loss, minutes):
    def run(session):
        site = Site()
        make(session, site, report=False)
        bring(session, "check-2.csv", site.cord_check("C-2", minutes, loss), "cord-check", "job.guidepin")
        guidepin(session, "report", "job.guidepin", "--out", "package", allowed=(0,))
    return run


def draft(session):
    make(session, Site(), report=False)
    guidepin(session, "report", "job.guidepin", "--out", "package", "--draft", allowed=(0,))


def stranger(session):
    make(session, Site(), report=False)
    guidepin(session, "report", "job.guidepin", "--out", "package", "--station-key", "other.key", allowed=(0,))


def acknowledged(session):
    make(session, with_dirt(), report=False)
    listed = json.loads(guidepin(session, "findings", "job.guidepin", "--json").stdout)["findings"]
    expect(bool(listed), "a dirty position gives no finding")
    guidepin(session, "acknowledge", "job.guidepin", listed[0]["id"], "--reason", "agreed with the client", allowed=(0,))
    guidepin(session, "report", "job.guidepin", "--out", "package", allowed=(0,))


def with_dirt():
    site = Site()
    for row in site.readings:
        if row["link"] == "N-3" and row["position"] == 4:
            row["attenuation_db"] = round(row["attenuation_db"] + 1.5, 2)
    return site


def went_on(session):
    make(session, Site())
    bring(session, "again.csv", Site.link("N-1", 47, START + datetime.timedelta(minutes=60), random.Random(11)), "readings", "job.guidepin")
    shutil.rmtree(session.folder / "package")
    shutil.copy(session.folder / "job.guidepin", session.folder / "package")


def simulated(fault, links=160, seed=1):
    def run(session):
        guidepin(session, "simulate", "--links", str(links), "--seed", str(seed), "--faults", fault, "--out", "site", allowed=(0,))
        guidepin(session, "new", "job.guidepin", "--sheet", "site/job.toml", allowed=(0,))
        guidepin(session, "schedule", "job.guidepin", "site/schedule.csv", allowed=(0,))
        for path in sorted((session.folder / "site").glob("reference*.csv")):
            kind = path.stem.removeprefix("references-")
            kit = [word for role in ("source", "meter", "launch", "tail", "substitution") for word in (f"--{role}", f"{role}-{kind}")]
            guidepin(session, "reference", "job.guidepin", f"site/{path.name}", *kit)
        for path in sorted((session.folder / "site").glob("cord-check*.csv")):
            guidepin(session, "cord-check", "job.guidepin", f"site/{path.name}")
        guidepin(session, "readings", "job.guidepin", "site/readings.csv")
        shutil.copy(session.folder / "job.guidepin", session.folder / "package")
    return run


def trusted(session):
    simulated("reference-drift:1@0.5")(session)
    watched = json.loads(guidepin(session, "watch", "job.guidepin", "--json").stdout)
    doubted = [r["reference"] for r in watched["references"] if r["doubts"]]
    expect(bool(doubted), "a drift of 0.5 dB raises no doubt")
    for reference in doubted:
        guidepin(session, "trust", "job.guidepin", reference, "--reason", "a second meter agrees", allowed=(0,))
    shutil.copy(session.folder / "job.guidepin", session.folder / "package")


def register(session, calibrations, sheet="", override=""):
    """Enters the meter's calibrations into the register, one after the other, after everything was measured."""
    site = Site()
    site.meter = sheet or site.meter
    make(session, site, report=False)
    for made, due in calibrations:
        (session.folder / "kit.toml").write_text(f"[[instrument]]\nserial = \"M\"\nrole = \"meter\"\nfamily = \"mpo-12\"\ncalibrated = {day(made)}\ncalibration-due = {day(due)}\n", encoding="utf-8")
        guidepin(session, "kit", "job.guidepin", "add", "kit.toml", allowed=(0, 1))
    if override:
        guidepin(session, "kit", "job.guidepin", "override", "M", "--reason", override, allowed=(0, 1))
    guidepin(session, "report", "job.guidepin", "--out", "package", allowed=(0,))


# Calibrations of the meter as (made, due) in days from now: of the job sheet, of the register; what the audit must say of them.
CALIBRATIONS = [
    ("", [(-100, 200)], set()),
    ("calibration-due = {}\n".format(day(-2)), [(-100, 200)], set()),          # calibrated again, and the register knows
    ("", [(-400, -35)], {"calibration-over"}),                                 # the sheet was wrong
    ("", [(-400, -35), (-30, 335)], set()),                                    # two in a row: the later one holds
    ("", [(-400, -35), (1, 366)], {"calibration-over"}),                       # again only afterwards
    ("", [(1, 366)], {"calibrated-after-use"}),
]


def outer_links(site):
    """A link of eight fibres, for which positions 5 to 8 are not needed."""
    site.links.append({**site.links[0], "link": "S-1", "fibres": "8-outer"})


def short_reference(site):
    outer_links(site)
    site.powers = [row for row in site.powers if not 5 <= row["position"] <= 8]
    site.check = [row for row in site.check if not 5 <= row["position"] <= 8]


def short_check(site):
    outer_links(site)
    site.check = [row for row in site.check if not 5 <= row["position"] <= 8]


def other_glass(site):
    """A single-mode link under the multimode reference."""
    site.links.append({**site.links[0], "link": "W-1", "category": "OS2"})
    rows = [{**row, "link": "W-1", "wavelength_nm": 1310} for row in site.readings if row["link"] == "N-1" and row["wavelength_nm"] == 850]
    set_all(rows, taken_at=stamp(START + datetime.timedelta(minutes=50)))
    site.readings += rows


def set_all(rows, **values):
    for row in rows:
        row.update(values)


def set_where(rows, link, **values):
    for row in rows:
        if row["link"] == link:
            row.update(values)


def keep(site, condition):
    site.readings = [row for row in site.readings if condition(row)]


CASES = {
    "records-unreadable": (package_case(lambda s: (lambda p: p.write_bytes(p.read_bytes()[:-1]))(s.folder / "package/records.jsonl")), None),
    "record-changed": (package_case(lambda s: swap(s, "records.jsonl", "\"length_m\":54", "\"length_m\":55")), None),
    "records-cut": (package_case(cut_records), None),
    "manifest-altered": (package_case(lambda s: swap(s, "manifest.json", "\"paper\":\"a4\"", "\"paper\":\"a5\"")), None),
    "file-changed": (package_case(lambda s: (s.folder / "package/summary.pdf").open("ab").write(b" ")), None),
    "file-missing": (package_case(lambda s: (s.folder / "package/job.xlsx").unlink()), None),
    "rows-differ": (package_case(lambda s: (lambda p: p.write_bytes(b"".join(p.read_bytes().splitlines(True)[:-1])))(s.folder / "package/links.csv")), None),
    "reading-differs": (package_case(lambda s: change_table(s, "attenuation_db", "0.11")), ["N-1"]),
    "limit-differs": (package_case(lambda s: change_table(s, "limit_db", "9.9")), ["N-1"]),
    "verdict-differs": (package_case(lambda s: change_table(s, "superseded", "yes")), ["N-1"]),
    "text-differs": (package_case(lambda s: swap(s, "links.json", "\"North\"", "\"South\"")), ["N-1"]),
    "copied-measurement": (site_case(copy_link), ["N-2", "N-3"]),
    "manifest-missing": (package_case(lambda s: (s.folder / "package/manifest.json").unlink()), None),
    "manifest-unsigned": (draft, None),
    "signed-by-stranger": (stranger, None),
    "contradicting-records": (event_for_nothing, None),
    "file-unlisted": (package_case(lambda s: (s.folder / "package/more.pdf").write_text("?")), None),
    "link-not-tested": (site_case(lambda site: keep(site, lambda r: r["link"] != "N-4")), ["N-4"]),
    "wavelength-not-measured": (site_case(lambda site: keep(site, lambda r: not (r["link"] == "N-3" and r["wavelength_nm"] == 1300))), ["N-3"]),
    "direction-not-measured": (site_case(lambda site: setattr(site, "rules", site.rules + "directions = 2\n")), ["N-1", "N-2", "N-3", "N-4"]),
    "position-not-measured": (site_case(drop_position), ["N-2"]),
    "schedule-changed-after-test": (changed_schedule, ["N-2"]),
    "failure-tested-away": (site_case(lambda site: retest(site, 2.9)), ["N-2"]),
    "link-tested-again": (site_case(lambda site: retest(site, 0.4)), ["N-2"]),
    "link-not-scheduled": (site_case(lambda site: site.links.pop()), ["N-4"]),
    "reference-unknown": (site_case(lambda site: set_where(site.readings, "N-3", reference="R-9")), ["N-3"]),
    "reference-mismatch": (site_case(other_glass), ["W-1"]),
    "position-not-referenced": (site_case(short_reference), ["N-1", "N-2", "N-3", "N-4"]),
    "position-not-checked": (site_case(short_check), ["N-1", "N-2", "N-3", "N-4"]),
    "reference-refused": (site_case(lambda site: set_all(site.powers, power_dbm=-75.0)), ["N-1", "N-2", "N-3", "N-4"]),
    "before-reference": (site_case(lambda site: set_where(site.readings, "N-1", taken_at=stamp(START - datetime.timedelta(minutes=30)))), ["N-1"]),
    "reference-voided": (voided, ["N-1", "N-2", "N-3", "N-4"]),
    "reference-too-old": (site_case(lambda site: (set_all(site.powers, taken_at=stamp(START - datetime.timedelta(hours=20))),
                                                  set_all(site.check, taken_at=stamp(START - datetime.timedelta(hours=19))))), ["N-1", "N-2", "N-3", "N-4"]),
    "no-accepted-check": (site_case(lambda site: setattr(site, "check", [])), ["N-1", "N-2", "N-3", "N-4"]),
    "check-failed": (second_check(1.9, 15), ["N-1", "N-2", "N-3", "N-4"]),
    "later-check-failed": (second_check(1.9, 90), ["N-1", "N-2", "N-3", "N-4"]),
    "reference-drift": (simulated("reference-drift:1@0.5"), None),
    "reference-fault": (simulated("reference-fault:1@0.6"), None),
    "test-cord-position": (simulated("test-cord-position:1@1.5"), None),
    "wrong-test-cord": (simulated("wrong-test-cord:1"), None),
    "mislabelled-link": (simulated("mislabelled-link:1"), None),
    "reference-doubted": (simulated("reference-drift:1@0.5"), None),
    "reference-trusted": (trusted, None),
    "kit-overridden": (lambda session: register(session, [(-400, -35)], override="compared this morning"), None),
    "no-time": (site_case(without_times), ["N-1", "N-2", "N-3", "N-4"]),
    "too-fast": (site_case(hurry), ["N-1", "N-2", "N-3", "N-4"]),
    "without-effect": (second_check(0.1, -30), None),
    "calibration-over": (site_case(lambda site: setattr(site, "meter", f"calibration-due = {day(-2)}\n")), ["N-1", "N-2", "N-3", "N-4"]),
    "calibrated-after-use": (site_case(lambda site: setattr(site, "meter", f"calibrated = {day(2)}\ncalibration-due = {day(200)}\n")), ["N-1", "N-2", "N-3", "N-4"]),
    "calibration-unknown": (site_case(lambda site: setattr(site, "meter", "")), None),
    "instrument-unknown": (site_case(lambda site: site.kit.__setitem__(3, "M-77")), None),
    "value-from-memory": (site_case(no_site), None),
    "other-values": (package_case(lambda s: change_facts(s)), None),
    "finding-acknowledged": (acknowledged, ["N-3"]),
    "changed-since-handed-over": (went_on, None),
}


def change_facts(session):
    facts = json.loads((session.folder / "package/manifest.json").read_text(encoding="utf-8"))["manifest"]["facts"]
    swap(session, "manifest.json", facts, "0" * len(facts))


def try_case(rule, run, links, usual):
    """True where the broken rule is found."""
    with Session() as session:
        run(session)
        answer = audited(session, "package")
        said = session.run(["audit", "package"]).stdout
    found = [f for f in answer["findings"] if f["rule"] == rule]
    others = sorted({f["rule"] for f in answer["findings"]} - usual - {rule})
    if not found:
        flaws.append(f"{rule}: not found; found are {[(f['rule'], f['text']) for f in answer['findings']]}")
        return False
    expect(rule in said and found[0]["text"] in said, f"{rule}: the text does not tell it")
    if links is not None:
        named = {link for f in found for link in f["links"]}
        expect(named == set(links), f"{rule}: names {sorted(named)}: {found[0]['text']}")
    if len(sys.argv) > 1:
        print(rule, found[0]["text"], "| also:", others)
    return True


def try_calibrations(sheet, calibrations, wanted):
    with Session() as session:
        register(session, calibrations, sheet)
        found = [f for f in audited(session, "package")["findings"] if f["rule"].startswith("calibrat")]
    expect({f["rule"] for f in found} == wanted, f"calibrations {calibrations}, sheet {sheet!r}: {found}")


def main():
    schema = json.loads((ROOT / "docs/schemas/audit.json").read_text(encoding="utf-8"))
    rules = schema["properties"]["findings"]["items"]["properties"]["rule"]["enum"]
    expect(set(rules) == set(CASES) | ELSEWHERE, f"rules without a case: {set(rules) - set(CASES) - ELSEWHERE}; cases without a rule: {set(CASES) - set(rules)}")
    with Session() as session:
        make(session, Site())
        sound = audited(session, "package")
        text = session.run(["audit", "package"])
        job = audited(session, "job.guidepin")
        guidepin(session, "report", "job.guidepin", "--out", "again", "--made", sound["made"], allowed=(0,))
        for name in sorted(p.name for p in (session.folder / "package").iterdir()):
            expect((session.folder / "package" / name).read_bytes() == (session.folder / "again" / name).read_bytes(),
                   f"{name}: other bytes after handing over")
        elsewhere = session.run(["audit", "nowhere"])
        folder = session.run(["audit", "."])
    usual = {f["rule"] for f in sound["findings"]}
    expect(usual == {"value-from-memory"}, f"a sound package: {[(f['rule'], f['text']) for f in sound['findings']]}")
    expect({f["rule"] for f in job["findings"]} == usual, f"a sound job: {[(f['rule'], f['text']) for f in job['findings']]}")
    expect(sound["signed_by"] and sound["links"] == 4 and sound["conforming"] == 4 and sound["readings"] == 96, f"head of a sound audit: {sound}")
    expect("Nothing refutes the package" in text.stdout and "signed by station" in text.stdout, text.stdout)
    expect(elsewhere.returncode == 3 and folder.returncode == 3 and "records.jsonl" in folder.stderr, f"{elsewhere.returncode} {folder.returncode} {folder.stderr}")
    with concurrent.futures.ThreadPoolExecutor(2) as two:
        cases = [two.submit(try_case, rule, *case, usual) for rule, case in CASES.items() if len(sys.argv) == 1 or rule in sys.argv[1:]]
        cases += [two.submit(try_calibrations, *case) for case in CALIBRATIONS if len(sys.argv) == 1]
        found = sum(bool(case.result()) for case in cases)
    for flaw in flaws:
        print(flaw)
    print(f"{found} rules broken once each and found, {len(flaws)} flaws")
    return 1 if flaws else 0


if __name__ == "__main__":
    sys.exit(main())
