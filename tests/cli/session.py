# SPDX-License-Identifier: Apache-2.0
"""A clean place to run the program in: a temporary folder, no settings of the person who runs the tests."""

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent


def program():
    """The program under test: GUIDEPIN_PROGRAM, or the one in the only build folder that has it."""
    named = os.environ.get("GUIDEPIN_PROGRAM")
    if named:
        path = Path(named).resolve()
        if not path.is_file():
            raise SystemExit(f"GUIDEPIN_PROGRAM: {named} is not there")
        return path
    built = sorted(ROOT.glob("build/*/app/guidepin"))
    if len(built) != 1:
        raise SystemExit(f"Say which program to test with GUIDEPIN_PROGRAM; built are: {[str(p) for p in built]}")
    return built[0]


class Session:
    """Use as `with Session(files) as session`. `files` are paths from the root of the project, copied by their last name."""

    def __init__(self, files=()):
        self.files = files

    def __enter__(self):
        self._kept = tempfile.TemporaryDirectory(prefix="guidepin-cli-")
        base = Path(self._kept.name)
        self.folder = base / "work"
        self.folder.mkdir()
        (base / "bin").mkdir()
        (base / "home").mkdir()
        (base / "bin" / "guidepin").symlink_to(program())
        for name in self.files:
            source = ROOT / name
            target = self.folder / source.name
            if source.is_dir():
                shutil.copytree(source, target)
            else:
                shutil.copy(source, target)
        self.environment = {
            "PATH": f"{base / 'bin'}:/usr/local/bin:/usr/bin:/bin",
            "HOME": str(base / "home"),
            "LC_ALL": "C.UTF-8",
            "TZ": "UTC",
            "GUIDEPIN_OPERATOR": "Test Person",
        }
        for name in ("ASAN_OPTIONS", "UBSAN_OPTIONS", "LSAN_OPTIONS"):
            if name in os.environ:
                self.environment[name] = os.environ[name]
        return self

    def __exit__(self, *_):
        self._kept.cleanup()

    def run(self, command):
        """A line as typed at a shell, or a list of words for the program."""
        words = ["bash", "-c", command] if isinstance(command, str) else ["guidepin", *command]
        return subprocess.run(words, cwd=self.folder, env=self.environment, stdin=subprocess.DEVNULL,
                              capture_output=True, encoding="utf-8", timeout=240)
