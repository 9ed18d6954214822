#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""Follows the worked examples of CONTRIBUTING.md in a copy of the tree, compiles what they change and uses what they add.

    contributing.py BUILD_FOLDER

The build folder gives compiler, flags and everything that the examples do not change: a changed file is compiled again (with the other
files that the compiler gets at once, where GUIDEPIN_MERGE is on) and takes the place of its object in a copy of the room's archive.
Changed files are compiled without optimisation and sanitizers, which takes a third of the time.

The examples say where a block goes in one of these ways:

    New file `PATH`:                         the block is the file ("New file, without a line end after the last character, `PATH`:")
    In `PATH`, after `TEXT`:                 the block comes after the only line that begins with TEXT
    In `PATH`, before `TEXT`:                the block comes before it
    At the end of `PATH`:                    the block comes last
    In `PATH`, replace `TEXT` with `TEXT`.   without a block; the text is there once

The examples of commands, pages and rule sets go into one program. Causes and record kinds change structures that much of the program
holds; so they go into a program of their own, made of their rooms and of the unit tests that the examples bring.
"""

import json
import os
import re
import shlex
import shutil
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
IN_THE_PROGRAM = ("Add a command", "Add a page", "Add a rule set")
IN_A_TEST = ("Add a cause", "Add a record kind")
# Rooms in which each file may hold a structure that the examples IN_A_TEST change.
CHANGED_WHOLE = ("cause", "job/state")


def fail(words):
    raise SystemExit(f"CONTRIBUTING.md: {words}")


# ---- What the document says ----

PLACE = re.compile(r"New file(?P<bare>,\s+without a line end after the last character,)?\s+`(?P<new>[^`]+)`:|At the end of `(?P<end>[^`]+)`:|"
                   r"In `(?P<path>[^`]+)`,\s+(?P<side>after|before)\s+`(?P<anchor>[^`]+)`:|"
                   r"In\s+`(?P<in>[^`]+)`,\s+replace\s+`(?P<old>[^`]+)`\s+with\s+`(?P<by>[^`]+)`\.")


def sections(text):
    found = {}
    for part in re.split(r"^### ", text, flags=re.M)[1:]:
        title, _, body = part.partition("\n")
        found[title.strip()] = re.split(r"^## ", body, flags=re.M)[0]
    return found


def steps_of(title, body):
    """[(match of PLACE, block)], in the order of the text. Every block has its place, every place its block."""
    steps, waiting = [], None
    for piece in re.split(r"^(```\w*\n.*?^```\n)", body, flags=re.M | re.S):
        block = re.fullmatch(r"```(\w*)\n(.*?)^```\n", piece, flags=re.M | re.S)
        if block:
            if waiting is None:
                fail(f"{title}: nothing says where this block goes:\n{block[2]}")
            steps.append((waiting, block[2]))
            waiting = None
            continue
        for place in PLACE.finditer(piece):
            if waiting is not None:
                fail(f"{title}: no block follows \"{waiting[0]}\"")
            if place["in"]:
                steps.append((place, None))
            else:
                waiting = place
    if waiting is not None:
        fail(f"{title}: no block follows \"{waiting[0]}\"")
    if not steps:
        fail(f"{title}: no step")
    return steps


def follow(title, body, tree):
    """Does what the example says. The files that it changed or added."""
    touched = []
    for place, block in steps_of(title, body):
        name = place["new"] or place["end"] or place["path"] or place["in"]
        path = tree / name
        touched.append(name)
        if place["new"]:
            if path.exists():
                fail(f"{title}: {name} is there already")
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(block.rstrip("\n") if place["bare"] else block, encoding="utf-8")
            continue
        if not path.is_file():
            fail(f"{title}: there is no {name}")
        text = path.read_text(encoding="utf-8")
        if place["end"]:
            path.write_text(text + block, encoding="utf-8")
            continue
        if place["in"]:
            if text.count(place["old"]) != 1:
                fail(f"{title}: {name} has \"{place['old']}\" {text.count(place['old'])} times, not once")
            path.write_text(text.replace(place["old"], place["by"]), encoding="utf-8")
            continue
        lines = text.splitlines(keepends=True)
        at = [i for i, line in enumerate(lines) if line.strip().startswith(place["anchor"])]
        if len(at) != 1:
            fail(f"{title}: {len(at)} lines of {name} begin with \"{place['anchor']}\", not one")
        lines.insert(at[0] + (place["side"] == "after"), block)
        path.write_text("".join(lines), encoding="utf-8")
    return touched


# ---- Compiling ----

class Builder:
    def __init__(self, build, tree, scratch):
        self.build, self.tree, self.scratch = build, tree, scratch
        done = subprocess.run(["ninja", "-C", build, "-t", "compdb"], capture_output=True, text=True, check=True)
        self.rows = [row for row in json.loads(done.stdout) if row["output"].endswith(".o") and row["file"].endswith((".cpp", ".cxx"))]
        self.count = 0

    def target_folder(self, room):
        return f"src/{room}/CMakeFiles/guidepin_{room.replace('/', '_')}.dir/"

    def rows_of(self, room):
        return [row for row in self.rows if row["output"].startswith(self.target_folder(room))]

    def sources_of(self, row):
        """The files that the compiler gets at once in this row."""
        path = Path(row["file"]) if Path(row["file"]).is_absolute() else self.build / row["file"]
        if path.suffix == ".cxx":
            return [Path(name) for name in re.findall(r'#include "([^"]+)"', path.read_text())]
        return [path]

    def compile(self, sources, like, name):
        """Starts nothing: (words of the command, object)."""
        words = shlex.split(like["command"])
        words = words[next(i for i, word in enumerate(words) if re.search(r"(clang|g)\+\+[\d.-]*$|/c\+\+$", word)):]
        kept, skip = [], False
        for word in words:
            if skip or word in ("-c",):
                skip = False
                continue
            if word in ("-o", "-MF", "-MT"):
                skip = True
                continue
            if word in ("-MD", like["file"]) or re.match(r"-fsanitize|-fno-sanitize|-O|-g|-include|-Xclang|-Winvalid-pch|.*cmake_pch", word):
                continue
            kept.append(word.replace(f"-I{ROOT}/src", f"-I{self.tree}/src").replace(f"-I{ROOT}/tests", f"-I{self.tree}/tests")
                        .replace(f'"{ROOT}"', f'"{self.tree}"'))
        self.count += 1
        unit = self.scratch / f"{self.count}_{name}.cpp"
        # What the build compiled once as a precompiled header is read as text here: its flags are others.
        common = [word for word in words if word.endswith("cmake_pch.hxx")][:1]
        unit.write_text("".join(f'#include "{path}"\n' for path in [*common, *map(self.moved, sources)]), encoding="utf-8")
        target = unit.with_suffix(".o")
        return [*kept, "-O0", "-c", str(unit), "-o", str(target)], target

    def moved(self, source):
        """Where a source file of the tree is in the copy; files that the build made stay."""
        source = Path(source)
        return self.tree / source.relative_to(ROOT) if source.is_relative_to(ROOT) and not source.is_relative_to(self.build) else source

    def units_for(self, room, names):
        """[(sources, row whose flags apply, object that it takes the place of or None)] for the changed files of a room."""
        rows, units, done = self.rows_of(room), [], set()
        for name in names:
            if name in done:
                continue
            row = next((row for row in rows if ROOT / name in self.sources_of(row)), None)
            if row is None:
                units.append(([self.tree / name], rows[0], None))
            else:
                sources = self.sources_of(row)
                units.append((sources, row, row["output"]))
                done.update(str(source.relative_to(ROOT)) for source in sources if source.is_relative_to(ROOT))
        return units

    def run(self, commands):
        """All of them, on two processors. Says what the compiler says."""
        def one(command):
            return subprocess.run(command, cwd=self.build, capture_output=True, text=True, check=False)
        with ThreadPoolExecutor(2) as both:
            for command, done in zip(commands, both.map(one, commands)):
                if done.returncode != 0:
                    raise SystemExit(f"{shlex.join(command)}\n{done.stderr[-6000:]}")

    def archive_of(self, room):
        folder = self.build / "src" / room
        return folder / f"libguidepin_{room.replace('/', '_')}.a"

    def link_words(self, target):
        """The command that links this program, and its objects."""
        done = subprocess.run(["ninja", "-C", self.build, "-t", "commands", target], capture_output=True, text=True, check=True)
        line = next(line for line in reversed(done.stdout.splitlines()) if f"-o {target}" in line)
        line = re.sub(r"^\s*:\s*&&\s*|\s*&&\s*:\s*$", "", line)
        return [word for word in shlex.split(line) if word not in ("&&", ":")]

    def link(self, target, objects, replaced, output, own=None):
        """Links `target` again, as `output`: with these objects, and archives without the members that they take the place of.
        With `own`, these are the objects of the program itself."""
        copies = {}
        for room, members in replaced.items():
            copy = self.scratch / f"{output.name}_{self.archive_of(room).name}"
            shutil.copy(self.archive_of(room), copy)
            names = [Path(member).name for member in members]
            if names:
                subprocess.run(["ar", "d", copy, *names], check=True)
            copies[str(self.archive_of(room).relative_to(self.build))] = str(copy)
            copies[str(self.archive_of(room))] = str(copy)  # a test program names it like this, ahead of its own files
        words = self.link_words(target)
        at = words.index("-o")
        words[at + 1] = str(output)
        words = [copies.get(word, word) for word in words]
        if own is not None:
            words = [word for word in words if not word.endswith(".o")]
        first = next(i for i, word in enumerate(words) if word.endswith((".a", ".o")))
        return [*words[:first], *map(str, [*(own or []), *objects]), *words[first:]]


def room_of(name):
    """The room of a file of src/, by the CMakeLists.txt beside it or above."""
    folder = Path(name).parent
    while folder.parts[:1] == ("src",) and not (ROOT / folder / "CMakeLists.txt").exists():
        folder = folder.parent
    return str(folder.relative_to("src")) if folder.parts[:1] == ("src",) and len(folder.parts) > 1 else None


def embedded(builder, scratch):
    """The tables inside the program again, from the data of the copy: as cmake/Embed.cmake does it."""
    listed = (builder.tree / "src/facts/CMakeLists.txt").read_text(encoding="utf-8")
    names = re.search(r"IN ITEMS ([^)]*)\)", listed)[1].split()
    output = scratch / "embedded_assets.cpp"
    files = ";".join(str(builder.tree / "data" / f"{name}.toml") for name in names)
    subprocess.run(["cmake", f"-DOUTPUT={output}", "-DNAMESPACE=guidepin::facts", f"-DFILES={files}", "-P",
                    str(ROOT / "cmake/EmbedScript.cmake")], check=True)
    return output


def objects_of(builder, changed, scratch, whole=()):
    """Compiles what changed. (objects, members of archives that they take the place of, by room)."""
    by_room = {}
    for name in changed:
        room = room_of(name)
        if room and name.endswith(".cpp"):
            by_room.setdefault(room, []).append(name)
        elif room and name.endswith(".inc"):  # rows of a registry: the files that make a table of them
            named = f'#include "{name.removeprefix("src/")}"'
            by_room.setdefault(room, []).extend(str(path.relative_to(builder.tree)) for path in (builder.tree / "src" / room).rglob("*.cpp")
                                                if named in path.read_text(encoding="utf-8"))
    for room in whole:
        there = [str(source.relative_to(ROOT)) for row in builder.rows_of(room) for source in builder.sources_of(row)
                 if source.is_relative_to(ROOT / "src")]
        by_room[room] = [*by_room.get(room, []), *there]
    if any(name.startswith("data/") for name in changed):
        by_room.setdefault("facts", [])
    commands, objects, replaced = [], [], {}
    for room, names in by_room.items():
        units = builder.units_for(room, names)
        if room == "facts":
            output = embedded(builder, scratch)
            row = next(row for row in builder.rows_of("facts") if any(s.name == "embedded_assets.cpp" for s in builder.sources_of(row)))
            units = [unit for unit in units if unit[2] != row["output"]]
            units.append(([output if s.name == "embedded_assets.cpp" else s for s in builder.sources_of(row)], row, row["output"]))
        for sources, row, member in units:
            command, target = builder.compile(sources, row, room.replace("/", "_"))
            commands.append(command)
            objects.append(target)
            replaced.setdefault(room, [])
            if member:
                replaced[room].append(member)
    return commands, objects, replaced


# ---- Using ----

def use_program(program, tree, changed):
    environment = {**os.environ, "GUIDEPIN_PROGRAM": str(program)}
    transcripts = [name for name in changed if name.startswith("tests/cli/transcripts/")]
    if len(transcripts) < 2:
        fail("the examples of a command and of a rule set bring no transcript")
    for name in transcripts:
        done = subprocess.run([sys.executable, tree / "tests/cli/run.py", tree / name], env=environment, capture_output=True, text=True, check=False)
        if done.returncode != 0:
            fail(f"{name}:\n{done.stdout}{done.stderr}")
    # The schema of a command, as tests/cli/registry.py compares it.
    from jsonschema import Draft202012Validator
    for name in changed:
        if not name.startswith("docs/schemas/"):
            continue
        text = subprocess.run([program, Path(name).stem, "--help"], capture_output=True, text=True, check=True).stdout
        example = re.search(r"^Example:\n  guidepin (.+)$", text, re.M)[1]
        answer = subprocess.run([program, *shlex.split(example), "--json"], capture_output=True, text=True, check=True).stdout
        Draft202012Validator(json.loads((tree / name).read_text(encoding="utf-8"))).validate(json.loads(answer))
    # The pages that are new, asked for by whoever works at the machine.
    sys.path.insert(0, str(tree / "tests/cli"))
    from workbench import Site, Workbench
    pages = re.compile(r'PAGE\("GET", "([^"]+)", "([^"]+)"')
    before, after = (pages.findall((root / "src/web/pages/pages.inc").read_text(encoding="utf-8")) for root in (ROOT, tree))
    added = [page for page in after if page not in before]
    if not added:
        fail("the example of a page adds no row to the registry")
    with tempfile.TemporaryDirectory() as folder:
        site = Site(program, folder)
        site.open_job()
        with Workbench(site) as bench:
            for path, title in added:
                status, text = bench.get(path)
                if status != 200 or f"<h1>{title}</h1>" not in text:
                    fail(f"page {path}: {status}\n{text[:2000]}")


def main():
    build = Path(sys.argv[1]).resolve()
    examples = sections((ROOT / "CONTRIBUTING.md").read_text(encoding="utf-8"))
    for title in (*IN_THE_PROGRAM, *IN_A_TEST):
        if title not in examples:
            fail(f"there is no section \"{title}\"")
    with tempfile.TemporaryDirectory(prefix="guidepin-contributing-") as folder:
        scratch = Path(folder)
        tree = scratch / "tree"
        for name in ("CMakeLists.txt", "CONTRIBUTING.md", "cmake", "data", "demo", "docs", "src", "tests", "tools"):
            source = ROOT / name
            if source.is_dir():
                shutil.copytree(source, tree / name, ignore=shutil.ignore_patterns("node_modules", "corpus"))
            else:
                tree.mkdir(exist_ok=True)
                shutil.copy(source, tree / name)
        builder = Builder(build, tree, scratch)
        # One program with a command, a page and a rule set more.
        changed = [name for title in IN_THE_PROGRAM for name in follow(title, examples[title], tree)]
        commands, objects, replaced = objects_of(builder, changed, scratch)
        builder.run(commands)
        program = scratch / "guidepin"
        builder.run([builder.link("app/guidepin", objects, replaced, program)])
        use_program(program, tree, changed)
        # Two rooms and the unit tests of a cause and a record kind.
        changed = [name for title in IN_A_TEST for name in follow(title, examples[title], tree)]
        # Whatever changes above these rooms only has to compile: the operation of the job, and its test.
        above = sorted({name for name in changed if name.startswith("src/job/open/") and name.endswith(".cpp")} |
                       {name for name in changed if name.startswith("tests/unit/") and (ROOT / name).exists()})
        commands, objects, replaced = objects_of(builder, [name for name in changed if name not in above], scratch, CHANGED_WHOLE)
        tests = [name for name in changed if name.startswith("tests/unit/") and name.endswith(".cpp") and not (ROOT / name).exists()]
        if len(tests) != len(IN_A_TEST):
            fail(f"{', '.join(IN_A_TEST)}: each brings one unit test, but there are {tests}")
        own = []
        like = next(row for row in builder.rows if row["output"].startswith("tests/CMakeFiles/unit_cause.dir/") and "cmake_pch" not in row["file"])
        for name in tests:
            command, target = builder.compile([tree / name], like, Path(name).stem)
            commands.append(command)
            own.append(target)
        for name in above:
            command, _ = builder.compile([tree / name], like, Path(name).stem)
            commands.append([*command, "-fsyntax-only"])
        builder.run(commands)
        program = scratch / "unit_examples"
        builder.run([builder.link("tests/unit_job", objects, replaced, program, own)])
        made = subprocess.run([sys.executable, tree / "tools/make_record_kinds"], capture_output=True, text=True, check=False)
        if made.returncode != 0 or "| `climate` |" not in (tree / "docs/formats/job-file.md").read_text(encoding="utf-8"):
            fail(f"tools/make_record_kinds does not list the new kind: {made.stdout}{made.stderr}")
        done = subprocess.run([program], capture_output=True, text=True, check=False)
        if done.returncode != 0 or not re.search(r"\[  PASSED  \] [2-9]", done.stdout):
            fail(f"the unit tests of the examples:\n{done.stdout[-4000:]}{done.stderr[-2000:]}")
    used = os.times()
    print(f"{len(IN_THE_PROGRAM) + len(IN_A_TEST)} examples followed and used; processor time {used.children_user + used.children_system:.0f} s")


if __name__ == "__main__":
    main()
