#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""package.py SOURCE [BUILD]: makes the Debian package and the container image with tools/package, twice, and tries both.

The package is installed into an empty root by dpkg itself, which knows what this machine has and so refuses a dependency that cannot
be met. What has to be in it is listed here, not taken from the build; Debian's rules for a package are the oracle (Debian policy 4.6:
chapters 5, 10.9, 12). The installed program certifies the demo. The image is put together by its specification and run without a
container engine; its program has to write the demo's certificates with the same bytes. The user service is read twice: by systemd, where systemd is, and always by the strict reader below.

The program comes from build/release, which ./check builds before the tests, or from the folder BUILD; tools/package compiles nothing
that is there already."""

import gzip
import hashlib
import io
import json
import os
import re
import shlex
import shutil
import subprocess
import sys
import tarfile
import tempfile
from pathlib import Path

SOURCE = Path(sys.argv[1]).resolve()
BUILD = ["--build", sys.argv[2]] if len(sys.argv) > 2 else []
EPOCH = 1_700_000_000  # 14 November 2023
failures = []


def expect(condition, words):
    if not condition:
        failures.append(words)
        print(f"FAILED: {words}", flush=True)


def run(*command, allowed=(0,), **more):
    done = subprocess.run([str(word) for word in command], capture_output=True, text=True, **more)
    expect(done.returncode in allowed, f"{' '.join(map(str, command))}: exit code {done.returncode}\n{done.stdout}{done.stderr}")
    return done.stdout


def as_root(*command):
    """Returns a command that may mount, and own files as root; for a user who is not root, in a namespace of their own."""
    return ["unshare", "--mount", *([] if os.getuid() == 0 else ["--map-root-user"]), *command]


# ---- Making it ------------------------------------------------------------------------------------------------------------------


def make(folder, umask, zone):
    environment = {**os.environ, "SOURCE_DATE_EPOCH": str(EPOCH), "TZ": zone}
    environment.pop("LC_ALL", None)
    run(SOURCE / "tools/package", "image", "--out", folder, *BUILD, env=environment, umask=umask)
    return sorted(folder.iterdir())


def check_same_bytes(first, second):
    expect([path.name for path in first] == [path.name for path in second], f"other files: {first} and {second}")
    for one, other in zip(first, second):
        expect(one.read_bytes() == other.read_bytes(), f"{one.name}: the same input gave other bytes")


def check_answers_of_the_tool(folder):
    """A wrong call ends with its code, names the thing and the remedy, and makes nothing."""
    tool = SOURCE / "tools/package"
    calls = [
        (["--help"], 0, "SOURCE_DATE_EPOCH"),
        ([], 2, "tools/package --help"),
        (["rpm"], 2, '"rpm"'),
        (["deb", "--out"], 2, "--out needs a value"),
        (["deb", "--maintainer", "nobody"], 2, "NAME <ADDRESS>"),
        (["deb", "--out", str(folder / "none"), "--build", str(folder)], 4, "Build it: tools/build release"),
    ]
    for words, code, said in calls:
        done = subprocess.run([str(tool), *words], capture_output=True, text=True)
        expect(done.returncode == code, f"tools/package {words}: exit code {done.returncode} instead of {code}\n{done.stderr}")
        expect(said in done.stdout + done.stderr, f"tools/package {words} does not say {said!r}: {done.stderr}")
    expect(not (folder / "none").exists() or not list((folder / "none").iterdir()), "a call that failed left a file")


# ---- The Debian package -----------------------------------------------------------------------------------------------------------

FILES = {
    "usr/bin/guidepin": 0o755,
    "usr/lib/systemd/user/guidepin@.service": 0o644,
    "usr/share/bash-completion/completions/guidepin": 0o644,
    "usr/share/doc/guidepin/changelog.gz": 0o644,
    "usr/share/doc/guidepin/copyright": 0o644,
    "usr/share/doc/guidepin/licences/libcli11-dev": 0o644,
    "usr/share/doc/guidepin/licences/nlohmann-json3-dev": 0o644,
    "usr/share/fish/vendor_completions.d/guidepin.fish": 0o644,
    "usr/share/man/man1/guidepin.1.gz": 0o644,
    "usr/share/zsh/vendor-completions/_guidepin": 0o644,
}
WHOLE_FOLDERS = {  # in the package: in the source, files
    "usr/share/guidepin/schemas": ("docs/schemas", "*.json"),
    "usr/share/doc/guidepin/formats": ("docs/formats", "*.md"),
    "usr/share/doc/guidepin/methods": ("docs/methods", "*.md"),
}


def control_of(deb):
    fields, name = {}, ""
    for line in run("dpkg-deb", "--field", deb).splitlines():
        if line.startswith(" "):
            fields[name] += "\n" + line
        else:
            name, _, value = line.partition(": ")
            fields[name] = value
    return fields


def check_control(deb):
    fields = control_of(deb)
    version = re.search(r"project\(guidepin VERSION ([\d.]+)", (SOURCE / "CMakeLists.txt").read_text()).group(1)
    architecture = run("dpkg", "--print-architecture").strip()
    wanted = {"Package": "guidepin", "Version": version, "Architecture": architecture, "Section": "science", "Priority": "optional"}
    for name, value in wanted.items():
        expect(fields.get(name) == value, f"control: {name} is {fields.get(name)!r} instead of {value!r}")
    expect(deb.name == f"guidepin_{version}_{architecture}.deb", f"the file is called {deb.name}")
    expect(re.fullmatch(r"[^<>]+ <[^<> ]+@[^<> ]+>", fields.get("Maintainer", "")), f"control: Maintainer {fields.get('Maintainer')!r}")
    summary, _, body = fields.get("Description", "").partition("\n")
    expect(10 < len(summary) <= 80 and summary[0].islower() and not summary.endswith("."), f"control: summary {summary!r}")
    expect(body and all(re.fullmatch(r" \.| \S.{0,78}", line) for line in body.split("\n")), f"control: description\n{body}")
    depends = [part.strip() for part in fields.get("Depends", "").split(",")]
    expect("fonts-b612" in depends, f"control: the font is no dependency: {depends}")
    for package in ("libc6", "libstdc++6", "libsqlite3-0", "libsodium23", "libssl3", "libpango-1.0-0", "libcairo2", "libxlsxwriter4"):
        expect(any(part.startswith(f"{package} (>= ") for part in depends), f"control: {package} is no dependency with a version")
    expect(not any("-dev" in part for part in depends), f"control: a package for developers is a dependency: {depends}")
    # Policy 5.6.20: 1024 bytes; every file and folder counts at least one.
    return int(fields.get("Installed-Size", "0"))


def check_files(deb, installed_size):
    wanted = dict(FILES)
    for place, (source, pattern) in WHOLE_FOLDERS.items():
        names = [path.name for path in (SOURCE / source).glob(pattern)]
        expect(len(names) > 5, f"{source} holds only {names}")
        wanted.update({f"{place}/{name}": 0o644 for name in names})
    found, total = {}, 0
    with tarfile.open(fileobj=io.BytesIO(subprocess.run(["dpkg-deb", "--fsys-tarfile", deb], capture_output=True, check=True).stdout)) as tar:
        for entry in tar:
            name = entry.name.removeprefix("./")
            expect((entry.uid, entry.gid, entry.uname, entry.gname) == (0, 0, "root", "root"), f"{name} belongs to {entry.uname}:{entry.gname}")
            expect(entry.mtime == EPOCH, f"{name} has the time {entry.mtime} instead of {EPOCH}")
            expect(entry.isdir() or entry.isfile(), f"{name} is neither file nor folder")
            total += 1 + entry.size // 1024
            if entry.isdir():
                expect(entry.mode & 0o7777 == 0o755, f"{name}/ has the mode {entry.mode:o}")
            else:
                found[name] = entry.mode & 0o7777
    for name in sorted(set(wanted) | set(found)):
        expect(name in found, f"{name} is not in the package")
        expect(name in wanted, f"{name} should not be in the package")
        if name in wanted and name in found:
            expect(found[name] == wanted[name], f"{name} has the mode {found[name]:o} instead of {wanted[name]:o}")
    expect(0.8 * total <= installed_size <= 1.2 * total, f"Installed-Size is {installed_size}, the files take {total}")


def check_installed(deb, root):
    """Installs by dpkg, with this machine's list of packages, so that each dependency is looked up; then compares what came."""
    admin = root / "var/lib/dpkg"
    for name in ("info", "updates", "triggers"):
        (admin / name).mkdir(parents=True)
    # A machine that has the package already knows it in its list; this root has not.
    known = Path("/var/lib/dpkg/status").read_text().split("\n\n")
    (admin / "status").write_text("\n\n".join(one for one in known if not one.lstrip().startswith("Package: guidepin\n")))
    (admin / "available").touch()
    dpkg = ["dpkg", f"--root={root}", f"--log={root}/log"]
    run(*as_root(*dpkg, "--install", deb))
    state = run("dpkg-query", f"--root={root}", "--show", "--showformat=${db:Status-Status}", "guidepin")
    expect(state == "installed", f"dpkg says that the package is {state!r}")
    # dpkg compares each file with the package's sums; it says nothing where all is well.
    said = run("dpkg", f"--root={root}", "--verify", "guidepin")
    expect(said == "", f"dpkg --verify: {said}")
    sums = (admin / "info/guidepin.md5sums").read_text().splitlines()
    files = [path for path in (root / "usr").rglob("*") if path.is_file()]
    expect(sorted(line.split("  ")[1] for line in sums) == sorted(str(path.relative_to(root)) for path in files), "md5sums do not name each file once")


def check_documents(root):
    documents = root / "usr/share/doc/guidepin"
    page = root / "usr/share/man/man1/guidepin.1.gz"
    done = subprocess.run(["man", "--warnings", "--encoding=UTF-8", "--local-file", page], capture_output=True, text=True,
                          env={**os.environ, "LC_ALL": "C.UTF-8", "MANWIDTH": "100"})
    expect(done.returncode == 0 and done.stderr == "", f"the man page does not render cleanly: {done.stderr}")
    for words in ("GUIDEPIN(1)", "NAME", "guidepin serve JOB", "EXIT STATUS"):
        expect(words in done.stdout, f"the man page does not say {words!r}")
    for name in (page, documents / "changelog.gz"):
        head = name.read_bytes()[:10]
        expect(head[:4] == b"\x1f\x8b\x08\x00" and head[4:8] == b"\0\0\0\0" and head[8] == 2, f"{name.name} is not compressed by gzip -9n")
    changelog = gzip.decompress((documents / "changelog.gz").read_bytes()).decode()
    expect(re.fullmatch(r"guidepin \([\d.]+\) unstable; urgency=medium\n\n  \* .+\n\n -- .+ <.+>  Tue, 14 Nov 2023 22:13:20 \+0000\n", changelog),
           f"the changelog has not Debian's form:\n{changelog}")
    licence = (documents / "copyright").read_text()
    for words in ("Format: https://www.debian.org/doc/packaging-manuals/copyright-format/1.0/", "License: Apache-2.0", "/usr/share/common-licenses/Apache-2.0"):
        expect(words in licence, f"copyright does not say {words!r}")
    for path in sorted((root / "usr/share/guidepin/schemas").iterdir()):
        expect("$schema" in json.loads(path.read_text()), f"{path.name} is no JSON schema")
    # The help names files as docs/formats/NAME; they are here.
    named = set(re.findall(r"docs/(formats/[\w-]+\.md)", done.stdout.replace("\u2010", "-")))
    expect(len(named) >= 3, f"the man page names only {named}")
    for name in named:
        expect((documents / name).is_file(), f"the man page names {name}, which is not in the package")
    completions = root / "usr/share"
    run("bash", "-n", completions / "bash-completion/completions/guidepin")
    offered = run("bash", "-c", 'source "$0"; complete -p guidepin; COMP_WORDS=(guidepin ver); COMP_CWORD=1; '
                  '"$(complete -p guidepin | sed "s/.*-F \\([^ ]*\\).*/\\1/")"; echo "${COMPREPLY[@]}"',
                  completions / "bash-completion/completions/guidepin")
    expect("verdicts" in offered, f"bash completes \"ver\" to {offered!r}")
    expect((completions / "zsh/vendor-completions/_guidepin").read_text().startswith("#compdef guidepin\n"), "the completions of zsh have no #compdef line")
    expect("complete -c guidepin" in (completions / "fish/vendor_completions.d/guidepin.fish").read_text(), "the completions of fish complete nothing")


# ---- The user service -------------------------------------------------------------------------------------------------------------

KNOWN_KEYS = {
    "Unit": {"Description", "Documentation"},
    "Service": {"Environment", "EnvironmentFile", "ExecStart", "Restart", "RestartPreventExitStatus", "RestartSec", "TimeoutStopSec",
                "NoNewPrivileges", "LockPersonality", "MemoryDenyWriteExecute", "RestrictAddressFamilies", "RestrictNamespaces",
                "RestrictRealtime", "RestrictSUIDSGID", "SystemCallArchitectures", "SystemCallErrorNumber", "SystemCallFilter"},
    "Install": {"WantedBy"},
}


def read_unit(path):
    """Reads a unit strictly: known sections, known keys, no empty value but for what is meant to be empty."""
    settings, section = {}, ""
    for number, line in enumerate(path.read_text().splitlines(), 1):
        if not line or line.startswith("#"):
            continue
        if line.startswith("["):
            section = line.strip("[]")
            expect(section in KNOWN_KEYS, f"{path.name}:{number}: unknown section {line}")
            continue
        name, sign, value = line.partition("=")
        expect(sign and value, f"{path.name}:{number}: not NAME=VALUE: {line}")
        expect(name in KNOWN_KEYS.get(section, ()), f"{path.name}:{number}: unknown key {name} in [{section}]; is it spelt right?")
        settings.setdefault(name, []).append(value)
    return settings


def check_service(root, job, keys, folder):
    unit = root / "usr/lib/systemd/user/guidepin@.service"
    program = root / "usr/bin/guidepin"
    settings = read_unit(unit)
    expect(settings.get("WantedBy") == ["default.target"], "the service cannot be enabled for a user")
    expect(settings.get("EnvironmentFile") == ["%E/guidepin/%i.conf"], "the service takes its job from another file than the README says")
    expect("AF_NETLINK" in settings["RestrictAddressFamilies"][0], "the service may not ask for this machine's addresses")
    if shutil.which("systemd-analyze"):
        # systemd looks the program up in its own folders; here it is in the root.
        copy = folder / unit.name
        copy.write_text(unit.read_text().replace("ExecStart=guidepin ", f"ExecStart={program} "))
        done = subprocess.run(["systemd-analyze", "--user", "verify", copy], capture_output=True, text=True,
                              env={**os.environ, "XDG_RUNTIME_DIR": str(folder), "MANPATH": str(root / "usr/share/man")})
        expect(done.returncode == 0 and done.stdout + done.stderr == "", f"systemd-analyze verify: {done.stdout}{done.stderr}")
        print("systemd has read the service")
    # What systemd would start, with the file that the unit's own comment shows, but for a port and an end.
    shown = dict(re.findall(r"^#   (JOB|OPTIONS)=(.*)$", unit.read_text(), re.M))
    expect(set(shown) == {"JOB", "OPTIONS"}, f"the service's comment shows {shown}")
    options = shown["OPTIONS"].replace("8350", "0").replace("/home/ines/exports", str(folder)).split() + ["--for", "1"]
    words = []
    for word in settings["ExecStart"][0].split():
        words += {"guidepin": [str(program)], "${JOB}": [str(job)], "$OPTIONS": options}.get(word, [word])
    said = run(*words, env={"HOME": str(folder), "XDG_DATA_HOME": str(keys), "USER": "ines"})
    expect(re.search(r" at http://127\.0\.0\.1:\d+/\?key=", said), f"the service's command does not open the workbench: {said}")
    # A wrong option or job ends it with a code after which systemd does not try again.
    kept = settings["RestartPreventExitStatus"][0].split()
    for wrong in (["serve", str(folder / "none.guidepin")], ["serve", str(job), "--port", "no"], ["serve", ""]):
        code = subprocess.run([program, *wrong], capture_output=True).returncode
        expect(str(code) in kept, f"{wrong} ends with {code}, and systemd would start it again")


# ---- Certifying -------------------------------------------------------------------------------------------------------------------


def certify(program, out):
    """Certifies the demo with the program; returns the job's file."""
    environment = {**os.environ, "XDG_DATA_HOME": str(out / "keys"), "HOME": str(out), "GUIDEPIN_OPERATOR": "Test Person"}
    said = run(SOURCE / "demo/certify", program, out, env=environment)
    expect("Certificates: 7 in" in said, f"the demo was not certified: {said}")
    job = out / "demo.guidepin"
    answer = json.loads(run(program, "verdicts", job, "--all", "--json", allowed=(1,), env=environment) or "{}")
    expect(sum(link["state"] == "pass" for link in answer.get("links", [])) == 123, "not 123 of the demo's links pass")
    return job


def check_program(program):
    header = run("readelf", "--wide", "--sections", program)
    expect(".symtab" not in header and ".debug_info" not in header, "the program is not stripped")
    expect(str(SOURCE).encode() not in program.read_bytes(), "the program holds the path of the folder it was built in")
    run(sys.executable, SOURCE / "tests/install/read_binary", program)


# ---- The image --------------------------------------------------------------------------------------------------------------------


def unpack_image(image, root):
    """Reads the layout as the specification says, checks each digest, and puts the layers one on the other."""
    with tarfile.open(image) as tar:
        blobs = {entry.name: tar.extractfile(entry).read() for entry in tar if entry.isfile()}

    def blob(described):
        content = blobs[described["digest"].replace("sha256:", "blobs/sha256/")]
        expect("sha256:" + hashlib.sha256(content).hexdigest() == described["digest"], f"{described['digest']} holds other bytes")
        expect(len(content) == described["size"], f"{described['digest']} has another size")
        return content

    expect(json.loads(blobs["oci-layout"]) == {"imageLayoutVersion": "1.0.0"}, "oci-layout is not that of version 1.0.0")
    index = json.loads(blobs["index.json"])
    manifest = json.loads(blob(index["manifests"][0]))
    configuration = json.loads(blob(manifest["config"]))
    expect(len(manifest["layers"]) == len(configuration["rootfs"]["diff_ids"]) == 2, "not two layers")
    for described, plain in zip(manifest["layers"], configuration["rootfs"]["diff_ids"]):
        content = gzip.decompress(blob(described))
        expect("sha256:" + hashlib.sha256(content).hexdigest() == plain, f"layer {plain} unpacks to other bytes")
        with tarfile.open(fileobj=io.BytesIO(content)) as tar:
            for entry in tar:
                expect((entry.uid, entry.gid, entry.mtime) == (0, 0, EPOCH), f"image: {entry.name}: owner or time")
                expect(not entry.name.startswith("/") and ".." not in entry.name.split("/"), f"image: {entry.name} leads out")
            tar.extraction_filter = lambda member, path: member  # modes as they are
            tar.extractall(root)
    older = json.loads(blobs["manifest.json"])[0]
    expect(older["Config"] in blobs and all(name in blobs for name in older["Layers"]), "manifest.json names blobs that are not there")
    used = {older["Config"], *older["Layers"], index["manifests"][0]["digest"].replace("sha256:", "blobs/sha256/")}
    expect(used | {"oci-layout", "index.json", "manifest.json"} == set(blobs), "the image holds something that nothing names")
    return configuration


class Container:
    """Runs the image's program as a container would: its own root, the folders of the job and of the keys bound to /work and /keys."""

    def __init__(self, image, root, jobs, keys):
        self.settings = unpack_image(image, root)["config"]
        self.start = as_root("sh", "-c", shlex.join(["mount", "--bind", str(jobs), f"{root}/work"]) + " && "
                             + shlex.join(["mount", "--bind", str(keys), f"{root}/keys"]) + " && exec "
                             + shlex.join(["unshare", f"--root={root}", f"--wd={self.settings['WorkingDir']}", *self.settings["Entrypoint"]]) + ' "$@"', "sh")

    def run(self, *words):
        return run(*self.start, *words, env=dict(one.split("=", 1) for one in self.settings["Env"]))


def check_image(image, root, program, out):
    """The image's program opens a job of its own, and writes the package of the job in `out` with the bytes that the program of the
    Debian package writes: libraries, fonts and settings are all there."""
    (out / "job.toml").write_bytes((SOURCE / "demo/job.toml").read_bytes())
    (out / "schedule.csv").write_bytes((SOURCE / "demo/site/schedule.csv").read_bytes())
    container = Container(image, root, out, out / "keys")
    listed = (root / "usr/share/doc/guidepin/image-packages").read_text().splitlines()
    expect(len(listed) > 20, f"the image names only {len(listed)} packages")
    for line in listed:
        expect((root / "usr/share/doc" / line.split()[0] / "copyright").is_file(), f"the image has no licence of {line.split()[0]}")
    expect("guidepin COMMAND" in container.run(*container.settings["Cmd"]), "the image does not explain itself")
    container.run("new", "own.guidepin", "--sheet", "job.toml")
    expect("150" in container.run("schedule", "own.guidepin", "schedule.csv"), "the image's program does not take in the schedule")
    made = ["--made", "2026-03-05T09:00:00+01:00"]
    container.run("report", "demo.guidepin", "--out", "two", *made)
    run(program, "report", out / "demo.guidepin", "--out", out / "one", *made, env={**os.environ, "XDG_DATA_HOME": str(out / "keys")})
    names = sorted(path.name for path in (out / "one").iterdir())
    expect(sum(name.endswith(".pdf") for name in names) == 8, f"the package holds {names}")
    for name in names:
        expect((out / "one" / name).read_bytes() == (out / "two" / name).read_bytes(), f"{name}: Debian package and image write other bytes")


def main():
    with tempfile.TemporaryDirectory(prefix="guidepin-package-") as place:
        folder = Path(place).resolve()
        check_answers_of_the_tool(folder)
        first, second = make(folder / "first", 0o022, "UTC"), make(folder / "second", 0o077, "Asia/Tokyo")
        check_same_bytes(first, second)
        if len(first) != 2:
            expect(False, f"tools/package made {first}")
            return
        deb, image = first
        check_files(deb, check_control(deb))
        root = folder / "root"
        root.mkdir()
        check_installed(deb, root)
        program = root / "usr/bin/guidepin"
        check_program(program)
        check_documents(root)
        out = folder / "by-package"
        out.mkdir()
        job = certify(program, out)
        check_service(root, job, out / "keys", out)
        system = folder / "system"
        system.mkdir()
        check_image(image, system, program, out)


main()
print(f"{len(failures)} failures" if failures else "packaged twice with the same bytes, installed, served, certified from package and image")
sys.exit(1 if failures else 0)
