"""Try every deliberate fault of ``edits.toml``; ``python -m tests.mutations.run`` exits 1 if one goes unnoticed."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import tomllib
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
PARTS = (
    "pipeline",
    "queries",
    "reports",
    "sample_logs",
    "tests",
    "pyproject.toml",
    "README.md",
    "DEVELOPERS.md",
    "Makefile",
)


@dataclass(frozen=True)
class Edit:
    """One deliberate fault: ``old`` stands once in ``file`` and becomes ``new``; ``tests`` must notice."""

    what: str
    file: str
    old: str
    new: str
    tests: list[str]

    def apply(self, root: Path) -> None:
        """Make the fault in a copy of the tree.

        Raises:
            ValueError: ``old`` does not stand there exactly once.
        """
        path = root / self.file
        text = path.read_text(encoding="utf-8")
        if text.count(self.old) != 1:
            raise ValueError(f"{self.file}: {self.old!r} stands there {text.count(self.old)} times, expected once")
        path.write_text(text.replace(self.old, self.new), encoding="utf-8")


def edits() -> list[Edit]:
    """All of the list."""
    text = Path(__file__).with_name("edits.toml").read_text(encoding="utf-8")
    return [Edit(**entry) for entry in tomllib.loads(text)["edit"]]


def noticed(edit: Edit) -> bool:
    """Whether a test fails with the fault in place."""
    with tempfile.TemporaryDirectory(prefix="mutation-") as place:
        root = Path(place)
        for part in PARTS:
            source = ROOT / part
            if source.is_dir():
                shutil.copytree(source, root / part, ignore=shutil.ignore_patterns("__pycache__", "screens"))
            else:
                shutil.copy(source, root / part)
        edit.apply(root)
        command = [sys.executable, "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider", *edit.tests]
        environment = os.environ | {"PYTHONPATH": str(root)}
        return subprocess.run(command, cwd=root, env=environment, capture_output=True, check=False).returncode == 1


def main() -> int:
    """Try all, say of each whether it was noticed."""
    missed = 0
    for edit in edits():
        seen = noticed(edit)
        missed += not seen
        print(f"{'noticed' if seen else 'NOT NOTICED'}: {edit.what} ({edit.file})", flush=True)
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
