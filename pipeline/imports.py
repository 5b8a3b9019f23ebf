"""Import modules during other work: the database reads a log without holding the interpreter lock."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from importlib import import_module
from threading import Thread

TO_FIT = ("pipeline.decisions.two_processes", "scipy.stats", "scipy.optimize")
"""What fitting and deciding read first of all, which takes most of a second."""


@contextmanager
def imported_beside(names: tuple[str, ...]) -> Iterator[None]:
    """Import modules in a thread during the ``with`` block, whose end waits for it, so a later fork finds no thread.

    A module that cannot be imported is skipped; the code that needs it will raise the error.
    """

    def read() -> None:
        for name in names:
            with suppress(Exception):
                import_module(name)

    thread = Thread(target=read, name="imports")
    thread.start()
    try:
        yield
    finally:
        thread.join()
