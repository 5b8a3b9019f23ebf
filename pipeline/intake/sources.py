"""Which stored file a file of a folder is, so that two folders may each hold a ``shots.csv``.

A stored file goes by its name, or by the end of its path if another stored file has that name. It is recognised by its
path; once there is nothing at its path any more, by its content, or by its name and that of its folder if another file
of that folder came along unchanged, since folders get moved.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from pipeline.intake.report import FileReport

LogFile = tuple[Path, str, str]
"""Path, kind and digest."""
_OWN = ("shots", "bowlers")  # kinds whose content is one person's or club's alone


@dataclass(frozen=True)
class Source:
    """One stored file: its path when last loaded, digest, what its load reported, and whether to read it again."""

    path: str
    sha256: str
    report: FileReport
    again: bool = False

    @property
    def gone(self) -> bool:
        """Whether nothing is at its path any more."""
        return not Path(self.path).exists()


def written_path(path: Path, home: Path) -> str:
    """``path`` as it is stored: from the database's folder ``home`` if it lies below, so that both can be copied."""
    return str(path.relative_to(home)) if path.is_relative_to(home) else str(path)


def stored_names(files: Sequence[LogFile], stored: dict[str, Source]) -> tuple[dict[Path, str], list[str]]:
    """The name each file is stored under.

    Args:
        files: path, kind and digest of each; the digest is empty for a file that cannot be read.
        stored: the stored files by name.

    Returns:
        Path -> name, distinct; and the names of those that were recognised although they moved and changed.
    """
    by_path = {source.path: name for name, source in stored.items()}
    names = {path: by_path[str(path.absolute())] for path, _, _ in files if str(path.absolute()) in by_path}
    moved = _moved_folders(files, stored)
    changed = []
    for path, kind, digest in files:
        if path in names:
            continue
        gone = {n: s for n, s in stored.items() if n not in names.values() and s.report.kind == kind and s.gone}
        name = _same_content(digest, gone) or _same_reference(path, kind, gone)
        if name is None and (name := _same_place(path, gone, moved)) is not None:
            changed.append(name)
        names[path] = name or new_name(path, {*stored, *names.values()})
    return names, changed


def _same_content(digest: str, gone: dict[str, Source]) -> str | None:
    return next((name for name, source in gone.items() if digest and source.sha256 == digest), None)


def _same_reference(path: Path, kind: str, gone: dict[str, Source]) -> str | None:
    """The one file of its kind that the folder had before, such as balls.csv for balls.txt."""
    here = path.absolute().parent
    return next((n for n, source in gone.items() if kind != "shots" and Path(source.path).parent == here), None)


def _same_place(path: Path, gone: dict[str, Source], moved: set[tuple[Path, Path]]) -> str | None:
    """The file of that name in the folder from which this one was moved."""
    whole = path.absolute()
    for name, source in gone.items():
        before = Path(source.path)
        if before.name == whole.name and (before.parent, whole.parent) in moved:
            return name
    return None


def _moved_folders(files: Iterable[LogFile], stored: dict[str, Source]) -> set[tuple[Path, Path]]:
    """Folders that are gone, each with the one of the same name that holds a file of its own unchanged.

    The name alone would not do: two students may each have a folder ``logs`` on a stick of their own. Nor would a
    list of patterns or blocks, which a whole club may share.
    """
    moves = set()
    for path, kind, digest in files:
        here = path.absolute().parent
        for source in stored.values():
            before = Path(source.path).parent
            same_file = kind in _OWN and digest and source.sha256 == digest and source.gone
            if same_file and before.name == here.name and before != here:
                moves.add((before, here))
    return moves


def new_name(path: Path, taken: Collection[str]) -> str:
    """The shortest end of the path that no stored file goes by."""
    parts = path.absolute().parts
    tails = ("/".join(parts[-length:]) for length in range(1, len(parts)))
    return next((tail for tail in tails if tail not in taken), str(path.absolute()))


def moved_notice(name: str, before: str, now: Path) -> str:
    """A sentence on a file that moved and changed at once, so that a wrong guess does not go unnoticed."""
    return (
        f"{now} was taken for a newer version of {before}, which is no longer there, and replaced its rows. If it is "
        f"another log, run `rackledger forget {name}` and load both folders again, each in its place."
    )
