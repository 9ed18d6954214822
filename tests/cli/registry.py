#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""Walks the registry of commands through the program itself: help, examples, JSON against its schema, man page,
completions, usage errors. Commands on a job are run in the order of tests/cli/day.txt."""

import json
import re
import shlex
import shutil
import subprocess
import sys

from jsonschema import Draft202012Validator

from session import HERE, ROOT, Session

flaws = []


def expect(holds, what):
    if not holds:
        flaws.append(what)


def commands_of(session):
    overview = session.run(["--help"])
    expect(overview.returncode == 0, "guidepin --help does not end with 0")
    return re.findall(r"^  ([a-z][a-z-]*) {3,}\S", overview.stdout, re.MULTILINE)


def example_of(help_text):
    found = re.search(r"^Example:\n  guidepin (.+)$", help_text, re.MULTILINE)
    return found.group(1) if found else None


def needs_file(words):
    return any(re.search(r"\.(guidepin|csv|toml|xlsx)$", word) for word in words)


def check_json(name, done, command):
    """The answer is one JSON document that its schema allows."""
    path = ROOT / "docs" / "schemas" / f"{name}.json"
    if not path.is_file():
        flaws.append(f"{name}: docs/schemas/{name}.json is missing")
        return False
    schema = json.loads(path.read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(schema)
    # A schema that names no member would let everything pass.
    for part in schema.get("oneOf", [schema]):
        expect(bool(part.get("required")) and part.get("additionalProperties") is False,
               f"{path.name}: the schema has to require its members and allow no others")
    try:
        answer = json.loads(done.stdout)
    except ValueError as error:
        flaws.append(f"{command}: no JSON: {error}: {done.stdout[:200]!r} {done.stderr.strip()}")
        return False
    for problem in Draft202012Validator(schema).iter_errors(answer):
        flaws.append(f"{command}: {problem.json_path}: {problem.message}")
    return True


def check_error_json(session, name):
    """A failure under --json is JSON as well."""
    done = session.run([name, "--json", "--no-such-option"])
    try:
        error = json.loads(done.stdout)["error"]
        expect(set(error) == {"code", "message"} and error["code"] == "usage", f"{name}: error JSON is {error}")
    except (ValueError, KeyError, TypeError):
        flaws.append(f"{name} --json: a usage error is no JSON: {done.stdout[:200]!r}")


def check_help(session, name):
    """Returns the example and whether the command answers JSON."""
    done = session.run([name, "--help"])
    expect(done.returncode == 0, f"{name} --help ends with {done.returncode}")
    expect(session.run(["help", name]).stdout == done.stdout, f"help {name} differs from {name} --help")
    example = example_of(done.stdout)
    expect(example is not None, f"{name} --help has no example")
    expect(example is None or shlex.split(example)[0] == name, f"{name} --help: the example is of another command: {example}")
    return example, "  --json" in done.stdout, re.findall(r"^  (--[a-z-]+)", done.stdout, re.MULTILINE)


def check_usage_error(session, name):
    done = session.run([name, "--no-such-option"])
    expect(done.returncode == 2, f"{name} --no-such-option ends with {done.returncode}, not 2")
    expect(f"guidepin {name} --help" in done.stderr, f"{name}: a usage error does not point to its help: {done.stderr!r}")
    expect(done.stdout == "", f"{name}: a usage error writes to standard output: {done.stdout[:100]!r}")


def check_texts(session, names, options):
    page = session.run(["manual"]).stdout
    for name in names:
        heading = ".SS " + name.replace("-", "\\-")
        expect(heading in page.split("\n"), f"the man page lacks {name}")
    if shutil.which("groff"):
        done = subprocess.run(["groff", "-man", "-Tutf8", "-Kutf8", "-ww"], input=page, capture_output=True, encoding="utf-8", check=False)
        expect(done.returncode == 0 and not done.stderr, f"groff on the man page: {done.stderr[:300]}")
    for shell in ("bash", "zsh", "fish"):
        script = session.run(["completions", shell]).stdout
        for name in names:
            expect(re.search(rf"(?<![\w-]){re.escape(name)}(?![\w-])", script), f"the completions of {shell} lack {name}")
            for option in options[name]:
                word = f"-l {option[2:]}" if shell == "fish" else option
                expect(word in script, f"the completions of {shell} lack {name} {option}")
        if shutil.which(shell):
            done = subprocess.run([shell, "-n"], input=script, capture_output=True, encoding="utf-8", check=False)
            expect(done.returncode == 0, f"{shell} does not read its completions: {done.stderr[:300]}")
    # The bash script is run as the shell would run it.
    done = session.run('source <(guidepin completions bash); COMP_WORDS=(guidepin lim); COMP_CWORD=1; _guidepin; echo "${COMPREPLY[@]}"')
    expect(done.stdout == "limit\n", f"bash completes \"lim\" to {done.stdout!r}")


def day_lines():
    path = HERE / "day.txt"
    lines = path.read_text(encoding="utf-8").split("\n") if path.is_file() else []
    files = [word for line in lines if line.startswith("# files:") for word in line[8:].split()]
    return files, [line for line in lines if line and not line.startswith("#")]


def main():
    files, day = day_lines()
    answered = set()
    with Session(files) as session:
        names = commands_of(session)
        expect({"facts", "limit", "map", "manual", "completions"} <= set(names), f"commands found: {names}")
        examples, answers_json, options = {}, {}, {}
        for name in names:
            examples[name], answers_json[name], options[name] = check_help(session, name)
            check_usage_error(session, name)
            if answers_json[name]:
                check_error_json(session, name)
        ran = set()
        for name in names:
            words = shlex.split(examples[name] or name)
            if needs_file(words):
                continue
            done = session.run(words)
            ran.add(name)
            expect(done.returncode in (0, 1), f"guidepin {examples[name]}: ends with {done.returncode}: {done.stderr.strip()}")
            if answers_json[name]:
                if check_json(name, session.run([*words, "--json"]), f"guidepin {examples[name]}"):
                    answered.add(name)
        for line in day:
            words = shlex.split(line)
            name = words[1]
            done = session.run([*words[1:], *(["--json"] if answers_json.get(name) else [])])
            ran.add(name)
            expect(done.returncode in (0, 1), f"{line}: ends with {done.returncode}: {done.stderr.strip()}")
            if answers_json.get(name):
                if check_json(name, done, line):
                    answered.add(name)
        for name in names:
            expect(name in ran, f"{name}: no run here; add one to tests/cli/day.txt")
            expect(name in answered or not answers_json[name], f"{name}: no JSON answer of it was held against a schema")
        for path in sorted((ROOT / "docs" / "schemas").glob("*.json")):
            expect(path.stem in names, f"docs/schemas/{path.name} belongs to no command")
        check_texts(session, names, options)
        unknown = session.run(["lmit"])
        expect(unknown.returncode == 2 and "limit" in unknown.stderr, f"guidepin lmit: {unknown.returncode} {unknown.stderr!r}")
        expect(session.run([]).returncode == 2, "guidepin without a command does not end with 2")
        expect(re.fullmatch(r"guidepin \d+\.\d+\.\d+\n", session.run(["--version"]).stdout), "--version has no version")
    for flaw in flaws:
        print(flaw)
    print(f"{len(names)} commands, {len(answered)} answers held against their schemas, {len(flaws)} flaws")
    return 1 if flaws else 0


if __name__ == "__main__":
    sys.exit(main())
