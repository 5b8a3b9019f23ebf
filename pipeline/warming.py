"""Libraries that a later stage needs, read in while an earlier one is busy outside of Python."""

from __future__ import annotations

from contextlib import suppress
from importlib import import_module
from threading import Thread


def warm_up(*modules: str) -> None:
    """Import ``modules`` on a thread of their own; one that cannot be had fails where it is needed, not here."""

    def read_in() -> None:
        with suppress(Exception):
            for module in modules:
                import_module(module)

    Thread(target=read_in, name="warm up").start()
