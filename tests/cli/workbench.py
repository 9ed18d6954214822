# SPDX-License-Identifier: Apache-2.0
"""A small job, and `guidepin serve` on it, spoken to as a browser would: for the tests and trials of several programs on one job."""

import ctypes
import fcntl
import http.client
import json
import os
import re
import secrets
import select
import signal
import struct
import subprocess
import time
import zlib
from pathlib import Path
from urllib.parse import urlencode, urljoin, urlsplit

ROOT = Path(__file__).resolve().parent.parent.parent
LINKS = ("N-1", "N-2", "N-3")

SHEET = """[rules]
wavelengths-multimode = [850]
require-length = false
[[instrument]]
id = "S"
role = "source"
calibration-due = 2030-11-10
[[instrument]]
id = "M"
role = "meter"
calibration-due = 2030-11-10
[[cord]]
id = "L"
role = "launch"
[[cord]]
id = "T"
role = "tail"
"""


class Site:
    """A folder with a small job, its files and a home of its own."""

    def __init__(self, program, folder, links=LINKS):
        self.program = str(program)
        self.folder = Path(folder)
        self.links = links
        self.folder.mkdir(parents=True, exist_ok=True)
        (self.folder / "home").mkdir(exist_ok=True)
        self.environment = {**os.environ, "HOME": str(self.folder / "home"), "XDG_DATA_HOME": str(self.folder / "home"),
                            "LC_ALL": "C.UTF-8", "TZ": "UTC", "GUIDEPIN_OPERATOR": "Test Person"}
        self.job = self.folder / "hall.guidepin"
        self.file("job.toml", SHEET)
        self.file("schedule.csv", "link,category,length_m,family,fibres,trunk_type\n" +
                  "".join(f"{link},OM4,50,mpo-12,12,B\n" for link in links))
        self.reference("R-1")
        self.check("C-1")
        self.readings("readings.csv", links)

    def file(self, name, text):
        (self.folder / name).write_text(text, encoding="utf-8")
        return name

    def reference(self, name):
        return self.file(f"{name}.csv", "reference,position,wavelength_nm,power_dbm,taken_at\n" +
                         "".join(f"{name},{p},850,-20.0,2026-03-02T08:00:00Z\n" for p in range(1, 13)))

    def check(self, name):
        return self.file(f"{name}.csv", "check,reference,position,far_position,wavelength_nm,attenuation_db,taken_at\n" +
                         "".join(f"{name},R-1,{p},{p},850,0.10,2026-03-02T08:10:00Z\n" for p in range(1, 13)))

    def readings(self, name, links, at="09:00:00", loss=0.4):
        # Fibres are not alike: an audit takes equal readings of two links for copies.
        def value(link, p):
            return loss + zlib.crc32(f"{link} {p}".encode()) % 200 / 1000

        return self.file(name, "link,launch_end,position,far_position,wavelength_nm,attenuation_db,taken_at,reference\n" +
                         "".join(f"{link},a,{p},{13 - p},850,{value(link, p):.2f},2026-03-02T{at}Z,R-1\n" for link in links for p in range(1, 13)))

    kit = ("--source", "S", "--meter", "M", "--launch", "L", "--tail", "T")

    def open_job(self):
        """A job with its schedule, a reference and a cord check."""
        for words in (("new", self.job.name, "--sheet", "job.toml"), ("schedule", self.job.name, "schedule.csv"),
                      ("reference", self.job.name, "R-1.csv", *self.kit), ("cord-check", self.job.name, "C-1.csv")):
            done = self.run(*words)
            if done.returncode != 0:
                raise AssertionError(f"guidepin {' '.join(words)}: exit code {done.returncode}\n{done.stdout}{done.stderr}")

    def start(self, *words):
        return subprocess.Popen([self.program, *words], cwd=self.folder, env=self.environment, stdin=subprocess.DEVNULL,
                                stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, encoding="utf-8")

    def run(self, *words):
        return subprocess.run([self.program, *words], cwd=self.folder, env=self.environment, stdin=subprocess.DEVNULL,
                              capture_output=True, encoding="utf-8", errors="backslashreplace", timeout=240, check=False)

    def check_job(self, job=None):
        """Nothing when `guidepin check` says that records and derived tables hold, else its words."""
        done = self.run("check", str(job or self.job.name))
        return "" if done.returncode == 0 else f"check ends with {done.returncode}: {done.stdout.strip()} {done.stderr.strip()}"

    def records(self, job=None):
        """The records as the program writes them out."""
        done = self.run("export", str(job or self.job.name), "records")
        lines = [json.loads(line) for line in done.stdout.splitlines() if line.startswith("{")] if done.returncode == 0 else []
        return [line for line in lines if "kind" in line and "body" in line]  # the others are the head of the file and signatures

    def notes(self, job=None):
        """The texts of all notes, as often as they are there."""
        found = []
        for record in self.records(job):
            if record.get("kind") == "note":
                body = record["body"]
                found.append((json.loads(body) if isinstance(body, str) else body)["text"])
        return found

    def copy_of_template(self, template):
        """The job file alone, as another one left it."""
        for ending in ("", "-wal", "-shm", "-holder"):
            Path(f"{self.job}{ending}").unlink(missing_ok=True)
        self.job.write_bytes(Path(template).read_bytes())


def _end_with_parent():
    """The child ends when the test is stopped from outside."""
    ctypes.CDLL(None, use_errno=True).prctl(1, signal.SIGKILL)


class Workbench:
    """`guidepin serve` until stop() or kill(). Opens exactly the address that it prints, and keeps its cookies."""

    def __init__(self, site, *words, job=None, limits=None):
        self.site = site
        # It ends by itself, should the test be stopped from outside.
        self.process = subprocess.Popen([site.program, "serve", str(job or site.job.name), "--port", "0", "--for", "280", *words],
                                        cwd=site.folder, env=site.environment, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                                        stderr=subprocess.PIPE, preexec_fn=limits or _end_with_parent)
        said = b""
        late = time.monotonic() + 60
        while b"to stop it." not in said:
            ready, _, _ = select.select([self.process.stdout], [], [], max(0, late - time.monotonic()))
            part = os.read(self.process.stdout.fileno(), 65536) if ready else b""
            if not part:
                self.process.kill()
                raise AssertionError(f"serve did not start: {said.decode()}{self.process.stderr.read().decode()}")
            said += part
        found = re.search(r"https?://\S+", said.decode())
        self.address = found.group(0)
        self.cookies = {}
        self.get(self.address)
        self.token = self.get("/token")[1].strip()

    def request(self, method, path, fields=None):
        """Status and text; follows no way on. Errors of the connection come out as OSError or HTTPException."""
        to = urlsplit(urljoin(self.address, path))
        place = f"{to.path or '/'}{'?' + to.query if to.query else ''}"
        headers = {"Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items())}
        body = None
        if fields is not None:
            body = urlencode({"token": self.token, **fields})
            headers["Content-Type"] = "application/x-www-form-urlencoded"
        connection = http.client.HTTPConnection(to.hostname, to.port, timeout=60)
        try:
            connection.request(method, place, body=body, headers=headers)
            answer = connection.getresponse()
            text = answer.read().decode("utf-8", "replace")
            for value in answer.headers.get_all("Set-Cookie") or ():
                name, _, rest = value.partition("=")
                self.cookies[name] = rest.split(";")[0]
            return answer.status, text, answer.headers.get("Location")
        finally:
            connection.close()

    def get(self, path):
        status, text, location = self.request("GET", path)
        if status in (302, 303) and location and location != "/pair":
            return self.get(location)
        return status, text

    def post(self, path, **fields):
        """Status and text of a change; 303 is how a page says that it was kept."""
        return self.request("POST", path, fields)[:2]

    def note(self, text, key=None, link=None):
        """True when the note was acknowledged."""
        status, self.last = self.post("/link/note", id=link or self.site.links[0], text=text, key=key or secrets.token_hex(8))
        return status == 303

    def end(self, name):
        """By this signal; gives the exit code."""
        self.process.send_signal(name)
        try:
            self.process.wait(60)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
            raise AssertionError(f"serve did not end within a minute of {signal.Signals(name).name}") from None
        self.complaint = self.process.stderr.read().decode("utf-8", "replace")
        self.process.stdout.close()
        self.process.stderr.close()
        return self.process.returncode

    def kill(self):
        return self.end(signal.SIGKILL)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        if self.process.poll() is None:
            self.kill()


SHARED_FIRST, SHARED_SIZE = 0x40000002, 510  # SQLite's file format: the bytes that every open connection of WAL mode holds


def lock_on(path):
    """Who keeps others from locking the job file for themselves: a process id, -1 for a lock of an open file, None for nobody.
    The kernel answers; nothing is locked by asking."""
    wish = struct.pack("@hhqqi0q", fcntl.F_WRLCK, os.SEEK_SET, SHARED_FIRST, SHARED_SIZE, 0)
    with open(path, "r+b") as file:
        kind, _, _, _, process = struct.unpack("@hhqqi0q", fcntl.fcntl(file, fcntl.F_GETLK, wish)[:struct.calcsize("@hhqqi0q")])
    return None if kind == fcntl.F_UNLCK else process


def until(what, question, seconds=60):
    """Waits until `question()` is true."""
    late = time.monotonic() + seconds
    while not (answer := question()):
        if time.monotonic() > late:
            raise AssertionError(f"Waited {seconds} s in vain: {what}")
        time.sleep(0.02)
    return answer
