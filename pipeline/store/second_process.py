"""Work in a second process, forked from this one, while this one goes on.

A forked process has the data of the first but none of its threads, so a database's background threads are missing. It
is therefore forked while no database is open, and its work opens the season anew, for reading. What the work returns or
raises is sent back. The process ends with the work, or as soon as this one no longer needs it or ends.
"""

from __future__ import annotations

import ctypes
import multiprocessing
import os
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from multiprocessing.connection import Connection
from multiprocessing.reduction import ForkingPickler
from typing import Generic, TypeVar, cast

from pipeline.errors import RackledgerError

PROCESSES = "RACKLEDGER_PROCESSES"
"""Environment variable: how many processes a command may use, 1 or 2; 2 without it if there are as many cores."""
T = TypeVar("T")
Take = Callable[[], int | None]
"""Gives the next ticket, or None if none is left."""
_DIE_WITH_PARENT = 1  # PR_SET_PDEATHSIG of Linux's prctl.h


class SecondProcessError(RackledgerError):
    """The second process ended before its work was done, as it does when something stops it or memory runs out."""


@dataclass(frozen=True)
class SecondProcess(Generic[T]):
    """Work in progress; ``answers`` receives its result."""

    answers: Connection

    def result(self) -> T:
        """Wait for the work and return its result; what it raised is raised here.

        Raises:
            SecondProcessError: it ended without an answer.
        """
        try:
            done, answer = self.answers.recv()
        except (EOFError, OSError) as error:
            raise SecondProcessError(
                f"A second process was stopped before it had finished; run again, with {PROCESSES}=1 to do without it."
            ) from error
        if not done:
            raise cast(BaseException, answer)
        return cast(T, answer)


def may_have_second() -> bool:
    """Whether a second process is allowed and there is a core for it."""
    if not sys.platform.startswith("linux"):
        return False  # elsewhere libraries do not survive a fork
    return os.environ.get(PROCESSES, "2") != "1" and len(os.sched_getaffinity(0)) > 1


@contextmanager
def second_process(work: Callable[[], T]) -> Iterator[SecondProcess[T] | None]:
    """Run ``work`` in a second process during the ``with`` block; None if there can be no such process.

    No database may be open when it is called. What ``work`` returns must be what ``multiprocessing`` can send; it goes
    from this program to itself, through a pipe that nobody else can write to.
    """
    answers, asked = multiprocessing.Pipe(duplex=False)
    process = multiprocessing.get_context("fork").Process(target=_do, args=(work, asked, os.getpid()), daemon=True)
    try:
        process.start()
    except OSError:  # no room for another process
        yield None
        return
    finally:
        asked.close()
    try:
        yield SecondProcess(answers)
    finally:
        answers.close()
        process.kill()
        process.join()


@dataclass(frozen=True)
class Beside(Generic[T]):
    """A second process at work on shared parts: ``take`` gives one that neither has begun, ``result`` waits for it."""

    take: Take
    result: Callable[[], T]


@contextmanager
def tickets(number: int) -> Iterator[Take]:
    """Numbers from 0 up, less than ``number`` of them (at most 256), that two processes share out: each is taken once.

    Make them before the second process; yields the function that takes the next one.
    """
    taken, given = os.pipe()  # a byte of a pipe is read by one process alone
    os.write(given, bytes(range(number)))
    os.close(given)

    def take() -> int | None:
        byte = os.read(taken, 1)
        return byte[0] if byte else None

    try:
        yield take
    finally:
        os.close(taken)


@contextmanager
def finished_beside(work: Callable[[], object]) -> Iterator[None]:
    """Run ``work`` in a second process during the ``with`` block, whose end waits for it; without one, here and first.

    If the second process is stopped the work stays undone, so nothing may depend on it.
    """
    with second_process(work) as second:
        if second is None:
            work()
        try:
            yield
        finally:
            if second is not None:
                with suppress(SecondProcessError):
                    second.result()


def _do(work: Callable[[], object], answer: Connection, parent: int) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the process that asks, which then ends this one
    ctypes.CDLL(None).prctl(_DIE_WITH_PARENT, signal.SIGKILL)
    if os.getppid() != parent:
        return
    try:
        result: tuple[bool, object] = True, work()
    except BaseException as error:
        result = False, error
    with suppress(OSError):  # nobody waits for it any more
        answer.send(result if result[0] or _survives(result[1]) else (False, RuntimeError(_named(result[1]))))


def _survives(error: object) -> bool:
    """Whether an error can be pickled: some need more arguments than they keep."""
    try:
        return isinstance(ForkingPickler.loads(ForkingPickler.dumps(error)), type(error))
    except Exception:
        return False


def _named(error: object) -> str:
    return f"{type(error).__name__}: {error}"
