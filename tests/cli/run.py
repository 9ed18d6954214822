#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""Runs a transcript and compares it to the letter.

    # A comment; the line below names files (from the root of the project) that are copied into the folder.
    # files: demo/contract-rules.toml tests/cli/files/leg.toml
    # mask: [0-9a-f]{16}
    $ guidepin limit --rules tia-568.3-e ...
    expected standard output
    ! expected line of standard error
    -> exit code 0

What a `mask` matches is taken for equal: the regular expression's matches become "***". Use it for what cannot be the
same twice, never for what a command answers. The folder itself reads FOLDER/. GUIDEPIN_APPROVE=1 writes what the program says into the transcript: read
the difference before committing it.
"""

import difflib
import os
import re
import sys
from pathlib import Path

from session import Session


def header(lines, word):
    return [line[len(word) + 3:].strip() for line in lines if line.startswith(f"# {word}:")]


def steps_of(lines, name):
    """[(lines before, command, expected lines)]; every command has its `-> exit code`."""
    steps, before, current = [], [], None
    for number, line in enumerate(lines, 1):
        if line.startswith("$ "):
            if current:
                raise SystemExit(f"{name}:{number}: the command before has no \"-> exit code\"")
            current = (before, line[2:], [])
            before = []
        elif current:
            current[2].append(line)
            if re.fullmatch(r"-> exit code \d+", line):
                steps.append(current)
                current = None
        else:
            before.append(line)
            if line and not line.startswith("#"):
                raise SystemExit(f"{name}:{number}: neither comment nor command: {line}")
    if current:
        raise SystemExit(f"{name}: the last command has no \"-> exit code\"")
    if not steps:
        raise SystemExit(f"{name}: no command")
    return steps, before


def said(session, command, masks):
    done = session.run(command)
    lines = done.stdout.split("\n")
    if lines[-1] == "":
        lines.pop()
    lines += ["! " + line for line in done.stderr.rstrip("\n").split("\n") if line or done.stderr.strip()]
    lines.append(f"-> exit code {done.returncode}")
    # The folder is another one each time.
    lines = [line.replace(f"{session.folder}/", "FOLDER/") for line in lines]
    for mask in masks:
        lines = [re.sub(mask, "***", line) for line in lines]
    return lines


def main():
    path = Path(sys.argv[1])
    lines = path.read_text(encoding="utf-8").rstrip("\n").split("\n")
    files = " ".join(header(lines, "files")).split()
    masks = header(lines, "mask")
    approve = os.environ.get("GUIDEPIN_APPROVE") == "1"
    fresh, failed = [], 0
    if approve:  # a new transcript may still lack its answers
        commands = [i for i, line in enumerate(lines) if line.startswith("$ ")]
        kept = []
        for here, after in zip(commands, commands[1:] + [len(lines)]):
            part = lines[here + 1:after]
            end = next((i + 1 for i, line in enumerate(part) if re.fullmatch(r"-> exit code \d+", line)), None)
            between = part[end:] if end is not None else [line for line in part if line.startswith("#") or not line]
            kept.append((lines[here][2:], between))
        fresh = lines[:commands[0]] if commands else lines
        with Session(files) as session:
            for command, between in kept:
                fresh += ["$ " + command, *said(session, command, masks), *between]
        path.write_text("\n".join(fresh) + "\n", encoding="utf-8")
        print(f"{path.name}: written again; read the difference")
        return 0
    steps, _ = steps_of(lines, path.name)
    with Session(files) as session:
        for _, command, expected in steps:
            actual = said(session, command, masks)
            if actual != expected:
                failed += 1
                print(f"$ {command}")
                print("\n".join(difflib.unified_diff(expected, actual, "expected", "said", lineterm="")))
    print(f"{path.name}: {len(steps)} commands, {failed} differ")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
