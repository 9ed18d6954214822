#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""The commands that README.md and docs/ show: each exists and has the options that are shown, and the answers that README.md
prints are what the program prints for the demo. (tests/cli runs the example of each --help, and every command on the demo.)"""

import re
import shlex
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "cli"))
from session import ROOT, Session  # noqa: E402

flaws = []
# Text that begins like a command: the first line of a station's key file.
no_commands = {"station"}


def commands_of(text):
    """(line, words) of each command in an indented or fenced block, or in back quotes."""
    fenced = False
    for number, line in enumerate(text.splitlines(), 1):
        if line.startswith("```"):
            fenced = not fenced
        shown = [line.strip().removeprefix("$ ")] if fenced or line.startswith("    ") else re.findall(r"`(guidepin [^`]+)`", line)
        for command in shown:
            if not re.match(r"guidepin [a-z]", command) or "…" in command or "|" in command:
                continue
            try:
                yield number, shlex.split(re.split(r"\s{2,}#|\s>\s", command)[0])
            except ValueError:
                continue


def helped(session, name, known={}):
    """The options of a command, and its whole help; nothing if there is no such command."""
    if name not in known:
        done = session.run([name, "--help"])
        known[name] = (set(re.findall(r"(?<![\w-])(--?[a-z][a-z-]*)", done.stdout)), done.stdout) if done.returncode == 0 else None
    return known[name]


def check_commands(session):
    count = 0
    for path in [ROOT / "README.md", ROOT / "demo/README.md", *sorted((ROOT / "docs").rglob("*.md"))]:
        where = path.relative_to(ROOT)
        for number, words in commands_of(path.read_text(encoding="utf-8")):
            count += 1
            name = words[1]
            if name == "help" or name in no_commands:
                continue
            answer = helped(session, name)
            if answer is None:
                flaws.append(f"{where}:{number}: guidepin has no command {name}; mend the document")
                continue
            for word in words[2:]:
                option = word.split("=")[0]
                if re.fullmatch(r"--[a-z][a-z-]*", option) and option not in answer[0] and option not in {"--help", "--json"}:
                    flaws.append(f"{where}:{number}: guidepin {name} has no option {option}; mend the document")
    if count < 40:
        flaws.append(f"only {count} commands found in the documents: this check looked at nothing")
    return count


def certify_demo(session):
    """Certifies the demo's site as demo/certify does, up to the report."""
    site, job = "site", "demo.guidepin"
    commands = [f"new {job} --sheet job.toml", f"schedule {job} {site}/schedule.csv"]
    for line in (ROOT / "demo/certify").read_text(encoding="utf-8").splitlines():
        if found := re.match(r"reference (\d) (\S+) (.+)$", line):
            day, reference, kit = found.groups()
            cords = " ".join(f"--{role} {item}" for role, item in zip(("source", "meter", "launch", "tail", "substitution"), kit.split()))
            commands.append(f"reference {job} {site}/references-day{day}-{reference.lower()}.csv {cords}")
        elif found := re.match(r"checks_and_readings (\d)$", line):
            commands += [f"{command} {job} {site}/{file}-day{found.group(1)}.csv" for command, file in (("cord-check", "cord-checks"), ("readings", "readings"))]
    for command in commands:
        done = session.run(f"guidepin {command}")
        if done.returncode not in (0, 1):
            flaws.append(f"guidepin {command} ends with {done.returncode}: {done.stderr.strip()}")


def spaces(text):
    return " ".join(text.split())


def check_answers(session):
    """What README.md prints below a command is part of what the program prints; its lines may be broken elsewhere."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    shown = re.findall(r"^    guidepin (\w+) hall\.guidepin[^\n]*\n\n((?:        [^\n]*\n)+)", readme, re.M)
    if len(shown) < 2:
        flaws.append("README.md: shows fewer than two answers of the program: this check looked at nothing")
    certify_demo(session)
    answers = {name: session.run(f"guidepin {name} demo.guidepin").stdout for name, _ in shown}
    for name, text in shown:
        if spaces(text) not in spaces(answers[name]):
            flaws.append(f"README.md: guidepin {name} does not print this (any longer) for the demo; print what it prints:\n{text}\nIt prints:\n{answers[name][:1500]}")


with Session(["demo/site", "demo/job.toml", "demo/kit.toml", "demo/contract-rules.toml"]) as session:
    commands = check_commands(session)
    check_answers(session)
print("\n".join(flaws) if flaws else f"{commands} commands of the documents hold")
sys.exit(1 if flaws else 0)
