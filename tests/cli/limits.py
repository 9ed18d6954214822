#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""Files that nobody means to bring in: endless, huge, no files at all, or larger than a limit of the machine.

Memory is measured, not guessed: the peak of the program as the kernel counts it (ru_maxrss of that one child), for a small and a large
file of one shape. What the larger one takes more may be a few times what it is larger, whatever the build and its sanitizers take
besides. Time is not judged; a run that never ends meets the limit of RUN_SECONDS."""

import re
import os
import pathlib
import signal
import socket
import subprocess
import sys
import threading

from session import Session

flaws = []
RUN_SECONDS = 200
MIB = 1 << 20
HEADERS = {
    "readings": "link,launch_end,position,far_position,wavelength_nm,attenuation_db\n",
    "schedule": "link,category,length_m,family,fibres,trunk_type\n",
    "reference": "reference,position,wavelength_nm,power_dbm\n",
    "cord-check": "check,reference,position,far_position,wavelength_nm,attenuation_db\n",
}
ROWS = {
    "readings": "N-1,a,1,12,850,0.2\n",
    "schedule": "N-1,OM4,40,mpo-12,12,B\n",
    "reference": "R-9,1,850,-20\n",
    "cord-check": "C-9,R-1,1,12,850,0.1\n",
}


def expect(holds, what):
    if not holds:
        flaws.append(what)


def run(session, words, **more):
    """Exit code, what was said, and the peak of memory in bytes."""
    child = subprocess.Popen(["guidepin", *words], cwd=session.folder, env=session.environment, stdin=more.get("stdin", subprocess.DEVNULL),
                             stdout=subprocess.PIPE, stderr=subprocess.STDOUT, encoding="utf-8", errors="replace",
                             preexec_fn=more.get("first"))
    late = threading.Timer(RUN_SECONDS, child.kill)
    late.start()
    said = child.stdout.read()
    _, status, usage = os.wait4(child.pid, 0)
    late.cancel()
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode == -signal.SIGKILL:
        flaws.append(f"{' '.join(words)}: no answer in {RUN_SECONDS} s")
    return child.returncode, said, usage.ru_maxrss * 1024


def make_job(session):
    sheet = '[job]\ntitle = "Limits"\n[rules]\nrule-set = "tia-568.3-e"\n[writing]\nzone = "+00:00"\n'
    (session.folder / "sheet.toml").write_text(sheet)
    code, said, _ = run(session, ["new", "limits.guidepin", "--sheet", "sheet.toml"])
    expect(code == 0, f"new: {code}: {said}")
    (session.folder / "one.csv").write_text(HEADERS["schedule"] + ROWS["schedule"])
    code, said, _ = run(session, ["schedule", "limits.guidepin", "one.csv"])
    expect(code == 0, f"schedule: {code}: {said}")


def copies_of_job(session):
    for ending in ("", "-wal", "-shm"):
        path = session.folder / f"try.guidepin{ending}"
        if path.exists():
            path.unlink()
    (session.folder / "try.guidepin").write_bytes((session.folder / "limits.guidepin").read_bytes())
    return "try.guidepin"


def words_for(kind, job, name):
    return [kind, job, name]


def try_empty_lines(session):
    """Lines with nothing in them cost what the file costs, and are read over."""
    for kind in HEADERS:
        for label, nothing in (("empty lines", "\n"), ("lines of separators", "," * HEADERS[kind].count(",") + "\r\n")):
            if label == "lines of separators" and kind not in ("readings", "schedule"):
                continue
            peaks, sizes, answers = [], [], []
            for size in (2 * MIB, 20 * MIB):
                text = HEADERS[kind] + nothing * (size // len(nothing)) + ROWS[kind]
                (session.folder / "nothing.csv").write_text(text)
                code, said, peak = run(session, words_for(kind, copies_of_job(session), "nothing.csv"))
                peaks.append(peak)
                sizes.append(len(text))
                answers.append((code, re.sub(r"line \d+", "line N", said.replace("nothing.csv", "FILE"))))
            more = (peaks[1] - peaks[0]) / (sizes[1] - sizes[0])
            # A row of separators may be a row of values, so columns of 49 bytes are made for it: 49/12 of its bytes at the most.
            most = 2.5 if label == "empty lines" else 6.5
            expect(more < most, f"{kind}, {label}: {more:.1f} bytes of memory for a byte of the file, at most {most} are right")
            expect(answers[0] == answers[1] and "bug in guidepin" not in answers[0][1], f"{kind}, {label}: {answers[0]} and {answers[1]}")
            if kind in ("readings", "schedule"):
                expect(answers[1][0] == 0, f"{kind}, {label}: the row behind them is not kept: {answers[1]}")


def try_long_lines(session):
    """A line without an end is refused, and only its beginning is looked at where a beginning will do."""
    line = session.folder / "line.csv"
    peaks = []
    for size in (2 * MIB, 40 * MIB):
        # In pieces: what this process holds when it starts the program is counted as the program's.
        with open(line, "w", encoding="utf-8") as file:
            for _ in range(size // MIB):
                file.write("link,launch_end," * (MIB // 16))
        code, said, peak = run(session, ["readings", "--propose-columns", "line.csv"])
        peaks.append(peak)
        expect(code == 3 and "No line ends within the first 1048576 bytes" in said, f"--propose-columns of {size} bytes: {code}: {said[:300]}")
    expect(peaks[1] - peaks[0] < 8 * MIB, f"--propose-columns reads more than the beginning: {peaks[1] - peaks[0]} bytes more")
    for kind in HEADERS:
        line.write_text(HEADERS[kind] + ROWS[kind] + "x" * (MIB + 1) + "\n")
        code, said, _ = run(session, words_for(kind, copies_of_job(session), "line.csv"))
        expect(code == 3 and "Line 3 is longer than 1048576 bytes" in said, f"{kind}, a long line: {code}: {said[:300]}")
    huge = session.folder / "huge.csv"
    huge.touch()
    os.truncate(huge, 5 << 30)  # five gigabytes of nothing, which take no room on the disk
    code, said, peak = run(session, words_for("readings", copies_of_job(session), "huge.csv"))
    expect(code == 3 and "more than 4096 MiB" in said, f"a file of 5 GiB: {code}: {said[:300]}")
    huge.unlink()


def try_long_references(session):
    many = session.folder / "many.csv"
    many.write_text(HEADERS["reference"] + "R-9,1,850,-20\n" * 200_000)
    code, said, _ = run(session, words_for("reference", copies_of_job(session), "many.csv"))
    expect(code == 3 and "has more than 10000 rows" in said, f"a reference of 200,000 rows: {code}: {said[:300]}")
    many.write_text(HEADERS["reference"] + "".join(f"R-{i},1,850,-20\n" for i in range(200_000)))
    code, said, _ = run(session, words_for("reference", copies_of_job(session), "many.csv"))
    expect(code == 3 and "more than 1000 references" in said, f"200,000 references: {code}: {said[:300]}")
    many.unlink()


def try_large_schedule(session):
    """Linear: four times the links take about four times the memory, and not much for each."""
    peaks = []
    counts = (2_000, 10_000)
    for count in counts:
        rows = "".join(f"L-{i:06},OM4,{40 + i % 50},mpo-12,12,B\n" for i in range(count))
        (session.folder / "large.csv").write_text(HEADERS["schedule"] + rows)
        code, said, peak = run(session, words_for("schedule", copies_of_job(session), "large.csv"))
        expect(code == 0, f"schedule of {count} links: {code}: {said[:300]}")
        peaks.append(peak)
    each = (peaks[1] - peaks[0]) / (counts[1] - counts[0])
    expect(each < (32_000 if "ASAN_OPTIONS" in os.environ or is_sanitized() else 4_000), f"{each:.0f} bytes of memory for a link of a schedule")


def is_sanitized():
    from session import program
    with open(program(), "rb") as file:
        return b"__asan_init" in file.read()


def try_what_is_no_file(session):
    """A pipe that nobody writes to, a device, a socket: refused at once wherever a file is read, with what to do."""
    pipe = session.folder / "pipe"
    os.mkfifo(pipe)
    listening = socket.socket(socket.AF_UNIX)
    old = os.getcwd()
    os.chdir(session.folder)  # the path of a socket has to be short
    listening.bind("socket")
    os.chdir(old)
    job = copies_of_job(session)
    (session.folder / "good.csv").write_text(HEADERS["readings"] + ROWS["readings"])
    (session.folder / "package").mkdir()
    places = {
        "readings": ["readings", job, "{}"],
        "propose": ["readings", "--propose-columns", "{}"],
        "columns": ["readings", job, "good.csv", "--columns", "{}"],
        "schedule": ["schedule", job, "{}"],
        "reference": ["reference", job, "{}"],
        "cord-check": ["cord-check", job, "{}"],
        "kit": ["kit", job, "add", "{}"],
        "sheet": ["new", "other.guidepin", "--sheet", "{}"],
        "certificate": ["serve", job, "--port", "0", "--for", "5", "--tls-cert", "{}", "--tls-key", "good.csv"],
        "private key": ["serve", job, "--port", "0", "--for", "5", "--tls-cert", "good.csv", "--tls-key", "{}"],
    }
    for place, words in places.items():
        for name, what in (("pipe", "a pipe"), ("socket", "a socket"), ("/dev/zero", "a device")):
            code, said, _ = run(session, [word.format(name) for word in words])
            expect(code == 3 and what in said and "save what it gives to a file first" in said, f"{place} from {name}: {code}: {said[:300]}")
    for name in ("manifest.json", "records.jsonl"):
        os.mkfifo(session.folder / "package" / name)
    code, said, _ = run(session, ["audit", "package"])
    expect(code in (1, 3) and "bug in guidepin" not in said, f"audit of a folder of pipes: {code}: {said[:300]}")
    reads, writes = os.pipe()
    code, said, _ = run(session, ["readings", job, "/dev/stdin"], stdin=reads)
    os.close(reads)
    os.close(writes)
    expect(code == 3 and "a pipe" in said, f"readings from a pipe at /dev/stdin: {code}: {said[:300]}")
    with open(session.folder / "good.csv", "rb") as good:
        code, said, _ = run(session, ["readings", job, "/dev/stdin"], stdin=good)
    expect(code == 0, f"readings from a file at /dev/stdin: {code}: {said[:300]}")
    code, said, _ = run(session, ["readings", job, "/proc/self/status"])
    expect(code == 3 and "is empty" not in said and "header" in said, f"readings from /proc/self/status: {code}: {said[:300]}")
    for own in (job, f"{job}-wal"):
        code, said, _ = run(session, ["readings", job, own])
        expect(code == 3 and "bug in guidepin" not in said, f"readings from the job's own {own}: {code}: {said[:300]}")
    code, said, _ = run(session, ["check", job])
    expect(code == 0, f"the job does not hold after all this: {code}: {said[:300]}")


def try_damaged_texts(session):
    """A job whose names are no longer text: each command says what it can, and a terminal obeys none of it."""
    whole = (session.folder / "limits.guidepin").read_bytes()
    for name in (b"schedule", b"Test Person", b"station-key"):
        expect(name in whole, f"the job does not hold {name}")
        for byte in (b"\xee", b"\x1b", b"\xff"):
            damaged = whole.replace(name, name[:3] + byte + name[4:])
            for words in (["check"], ["check", "--json"], ["audit", "--json"], ["findings", "--json"], ["verdicts", "--all", "--json"], ["kit", "--json"], ["rebuild"]):
                job = copies_of_job(session)
                (session.folder / job).write_bytes(damaged)
                code, said, _ = run(session, [words[0], job, *words[1:]])
                expect(code in (0, 1, 3, 4) and "bug in guidepin" not in said, f"{words} of a job with {name} damaged by {byte}: {code}: {said[:300]}")
                if words[0] == "check" or "--json" in words:
                    expect("\x1b" not in said, f"{words} of a job with {name} damaged by {byte}: a control character: {said[:300]!r}")


def try_file_size_limit(session):
    """ulimit -f is like a full disk: exit code 4, words, and the job holds."""
    import resource

    def limit(kilobytes):
        return lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (kilobytes * 1024, kilobytes * 1024))

    def refused(what, words, kilobytes):
        code, said, _ = run(session, words, first=limit(kilobytes))
        expect(code == 4 and ("ulimit -f" in said or "disk" in said) and "bug in guidepin" not in said,
               f"{what} with files of {kilobytes} kB at most: {code}: {said[:300]}")

    refused("new", ["new", "small.guidepin", "--sheet", "sheet.toml"], 16)
    expect(not (session.folder / "small.guidepin").exists(), "new with a limit leaves a job behind")
    job = copies_of_job(session)
    rows = "".join(f"N-1,a,{p},{13 - p},{w},0.2\n" for p in range(1, 13) for w in range(700, 1650))
    (session.folder / "many.csv").write_text(HEADERS["readings"] + rows)
    refused("readings", ["readings", job, "many.csv"], 200)
    code, said, _ = run(session, ["check", job])
    expect(code == 0, f"check after readings with a limit: {code}: {said[:300]}")
    code, said, _ = run(session, ["readings", job, "many.csv"])
    expect(code == 0, f"readings again without the limit: {code}: {said[:300]}")
    refused("report", ["report", job, "--out", "small-package"], 40)
    code, said, _ = run(session, ["check", job])
    expect(code == 0, f"check after report with a limit: {code}: {said[:300]}")


with Session() as session:
    make_job(session)
    for part in (try_empty_lines, try_long_lines, try_long_references, try_large_schedule, try_what_is_no_file, try_damaged_texts, try_file_size_limit):
        if len(sys.argv) < 2 or sys.argv[1] in part.__name__:
            part(session)

print("\n".join(flaws) if flaws else "limits: every one of them is said, and memory grows with what is kept")
sys.exit(1 if flaws else 0)
