"""Ctrl-C in the middle of a query.

Python handles a signal only between two bytecode steps. The database checks for one between pieces of its work, but
with several threads its main thread may wait for minutes. So a thread of ours waits for Ctrl-C and interrupts the
query.
"""

from __future__ import annotations

import os
import signal
import sys
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from types import FrameType

import duckdb


@contextmanager
def stoppable(
    connection: duckdb.DuckDBPyConnection, others: Sequence[duckdb.DuckDBPyConnection] = ()
) -> Iterator[None]:
    """Let Ctrl-C interrupt any query of ``connection`` or the ``others``; KeyboardInterrupt is raised.

    Does nothing outside the main thread, where no signal arrives, or if Ctrl-C has another handler.
    """
    if not _raises_as_usual():
        yield
        return
    read_end, write_end = os.pipe()
    os.set_blocking(write_end, False)
    before = signal.set_wakeup_fd(write_end, warn_on_full_buffer=False)
    signal.signal(signal.SIGINT, _stop)
    watcher = threading.Thread(target=_watch, args=(read_end, connection, others), daemon=True)
    watcher.start()
    try:
        yield
    except duckdb.InterruptException as error:
        raise KeyboardInterrupt from error
    finally:
        signal.signal(signal.SIGINT, signal.default_int_handler)
        signal.set_wakeup_fd(before)
        os.close(write_end)  # the watcher reads the end of the pipe and is done with the connection before it closes
        watcher.join()
        os.close(read_end)


def _raises_as_usual() -> bool:
    in_main = threading.current_thread() is threading.main_thread()
    return in_main and signal.getsignal(signal.SIGINT) is signal.default_int_handler


def _stop(number: int, frame: FrameType | None) -> None:
    """Raise KeyboardInterrupt, unless a query was called off: a second exception would cut its clearing up short."""
    if not isinstance(sys.exception(), duckdb.InterruptException):
        raise KeyboardInterrupt


def _watch(read_end: int, connection: duckdb.DuckDBPyConnection, others: Sequence[duckdb.DuckDBPyConnection]) -> None:
    while signals := os.read(read_end, 64):
        if signal.SIGINT in signals:
            for running in (connection, *others):
                with suppress(duckdb.Error):
                    running.interrupt()
