"""Which stored file a file of a folder is, so that two folders may each hold a ``shots.csv``.

A stored file goes by its name, or by the end of its path if another stored file has that name. It is recognised by its
path; once there is nothing at its path any more, by its content, or by its name and that of its folder, since folders
get moved.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from pathlib import Path

from pipeline.intake.report import FileReport


@dataclass(frozen=True)
class Source:
    """One stored file: its path when last loaded, digest, and what its load reported."""

    path: str
    sha256: str
    report: FileReport

    @property
    def gone(self) -> bool:
        """Whether nothing is at its path any more."""
        return not Path(self.path).exists()


def written_path(path: Path, home: Path) -> str:
    """``path`` as it is stored: from the database's folder ``home`` if it lies below, so that both can be copied."""
    return str(path.relative_to(home)) if path.is_relative_to(home) else str(path)


def stored_names(files: Iterable[tuple[Path, str, str]], stored: dict[str, Source]) -> dict[Path, str]:
    """The name each file is stored under.

    Args:
        files: path, kind and digest of each; the digest is empty for a file that cannot be read.
        stored: the stored files by name.

    Returns:
        Path -> name, distinct.
    """
    by_path = {source.path: name for name, source in stored.items()}
    found = [(path, by_path.get(str(path.absolute())), kind, digest) for path, kind, digest in files]
    taken = {name for _, name, _, _ in found if name}
    names = {path: name for path, name, _, _ in found if name}
    for path, name, kind, digest in found:
        if name is None:
            names[path] = _moved(path, kind, digest, stored, taken) or new_name(path, {*stored, *taken})
            taken.add(names[path])
    return names


def _moved(path: Path, kind: str, digest: str, stored: dict[str, Source], taken: Collection[str]) -> str | None:
    """The stored file that this one was before it was moved or renamed; None if there is none."""
    gone = {n: s for n, s in stored.items() if n not in taken and s.report.kind == kind and s.gone}
    alike = [name for name, source in gone.items() if digest and source.sha256 == digest]
    whole = path.absolute()
    alike += [name for name, source in gone.items() if Path(source.path).parts[-2:] == whole.parts[-2:]]
    return next(iter(alike), None)


def new_name(path: Path, taken: Collection[str]) -> str:
    """The shortest end of the path that no stored file goes by."""
    parts = path.absolute().parts
    tails = ("/".join(parts[-length:]) for length in range(1, len(parts)))
    return next((tail for tail in tails if tail not in taken), str(path.absolute()))
