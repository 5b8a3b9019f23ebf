"""Places where things go wrong: a disk with little room, a folder nobody may write to, a command stopped half-way.

The kernel gives them: a small tmpfs or a read-only bind mount in a mount namespace of its own, so that the superuser
is held back as well. Where namespaces are not allowed, a bound on file sizes and file modes stand in.
"""

from __future__ import annotations

import os
import resource
import shutil
import signal
import subprocess
import sys
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parents[2]
ENVIRONMENT = os.environ | {"OPENBLAS_NUM_THREADS": "1", "PYTHONPATH": str(ROOT)}

# Runs the command, but sends it a signal as soon as it says that it begins a stage.
_SIGNALLED = """
import os, signal, sys
from contextlib import contextmanager
from pipeline import cli, console
stage, number, sys.argv = sys.argv[1], int(sys.argv[2]), ["rackledger", *sys.argv[3:]]
signal.signal(signal.SIGINT, signal.default_int_handler)
def tell(text, fraction):
    if text.startswith(stage):
        os.kill(os.getpid(), number)
@contextmanager
def bar():
    yield tell
console.progress_bar = bar
cli.main()
"""
_FULL = 'mount -t tmpfs -o size={size} small "$1" && cp -a "$2/." "$1" && shift 2 && "$@"'
_READ_ONLY = 'mount --bind "$1" "$1" && mount -o remount,ro,bind "$1" && shift 2 && "$@"'
_KEEP = '; code=$?; cp -a "{place}/." "{kept}"; exit $code'
_LONGEST_S = 240
Done = subprocess.CompletedProcess[str]


def rackledger(*words: object) -> list[str]:
    """The command as it is installed."""
    return [sys.executable, "-m", "pipeline", *map(str, words)]


def run(command: list[str]) -> Done:
    """Run ``command`` to its end."""
    return subprocess.run(command, capture_output=True, text=True, check=False, env=ENVIRONMENT, timeout=_LONGEST_S)


def signalled(stage: str, number: signal.Signals, *words: object) -> Done:
    """The command, sent ``number`` when it begins ``stage``."""
    return run([sys.executable, "-c", _SIGNALLED, stage, str(int(number)), *map(str, words)])


def on_full_disk(command: list[str], place: Path, room: int) -> Done:
    """Run ``command`` while the disk of ``place`` has ``room`` bytes left beside what it holds.

    ``place`` holds afterwards what the command left on that disk.
    """
    size = sum(-(-path.stat().st_size // 4096) * 4096 for path in place.rglob("*") if path.is_file()) + room
    if not _namespaces():
        return _with_small_files(command, max(room, *(p.stat().st_size for p in place.rglob("*") if p.is_file())))
    before, kept = place.with_name(place.name + "-before"), place.with_name(place.name + "-kept")
    shutil.copytree(place, before)
    kept.mkdir()
    script = _FULL.format(size=size) + _KEEP.format(place=place, kept=kept)
    done = run([*_unshare(), "sh", "-c", script, "sh", str(place), str(before), *command])
    shutil.rmtree(place)
    kept.rename(place)
    return done


def where_read_only(command: list[str], place: Path) -> Done:
    """Run ``command`` while nobody may write to ``place``."""
    if _namespaces():
        return run([*_unshare(), "sh", "-c", _READ_ONLY, "sh", str(place), "-", *command])
    mode = place.stat().st_mode
    place.chmod(0o555)
    try:
        return run(command)
    finally:
        place.chmod(mode)


def one_sentence(done: Done, *words: str, code: int = 1) -> None:
    """See that a run failed with ``code`` and one line that holds ``words``."""
    assert done.returncode == code, done.stdout + done.stderr
    assert "Traceback" not in done.stderr
    lines = done.stderr.strip().splitlines()
    assert len(lines) == 1, done.stderr
    assert lines[0].startswith("rackledger: ")
    assert all(word in lines[0] for word in words), lines[0]


def _unshare() -> list[str]:
    return ["unshare", "--mount"] if os.geteuid() == 0 else ["unshare", "--mount", "--map-root-user"]


@cache
def _namespaces() -> bool:
    if shutil.which("unshare") is None:
        return False
    return run([*_unshare(), "sh", "-c", "mount -t tmpfs -o size=64k small /mnt"]).returncode == 0


def _with_small_files(command: list[str], most: int) -> Done:
    def bound() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))

    return subprocess.run(command, capture_output=True, text=True, check=False, env=ENVIRONMENT, preexec_fn=bound)
