"""Work in a second process: what it returns and raises comes back, and it never outlives what it was begun for."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from pipeline.errors import IntakeError
from pipeline.store import second_process as module
from pipeline.store.second_process import (
    PROCESSES,
    SecondProcessError,
    finished_beside,
    may_have_second,
    second_process,
)

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only Linux has a second process")


class TwoWordsError(Exception):
    """An error that cannot be made again from what it keeps."""

    def __init__(self, one: str, two: str) -> None:
        super().__init__(f"{one} {two}")


def _raise(error: BaseException) -> None:
    raise error


def _gone(process: int) -> bool:
    """Whether it ended; one that ended and was not waited for yet has no memory left."""
    try:
        return "VmRSS" not in Path(f"/proc/{process}/status").read_text(encoding="ascii")
    except OSError:
        return True


def _soon_gone(process: int) -> bool:
    until = time.monotonic() + 20
    while not _gone(process) and time.monotonic() < until:
        time.sleep(0.01)
    return _gone(process)


def test_what_is_returned_comes_back_to_the_digit() -> None:
    numbers = np.random.default_rng(1).normal(size=(3, 4))
    with second_process(lambda: (os.getpid(), numbers * 2)) as second:
        assert second is not None
        process, answers = second.result()
    assert process != os.getpid() and np.array_equal(answers, numbers * 2)


def test_an_error_is_raised_as_it_was_or_named_if_it_cannot_be_sent() -> None:
    with second_process(lambda: _raise(IntakeError("the disk is full."))) as second:
        assert second is not None
        with pytest.raises(IntakeError, match="the disk is full"):
            second.result()
    with second_process(lambda: _raise(TwoWordsError("quite", "unforeseen"))) as second:
        assert second is not None
        with pytest.raises(RuntimeError, match="TwoWordsError: quite unforeseen"):
            second.result()


def test_a_process_that_is_killed_is_reported_in_one_sentence() -> None:
    with second_process(lambda: os.kill(os.getpid(), signal.SIGKILL)) as second:
        assert second is not None
        with pytest.raises(SecondProcessError, match=f"stopped before it had finished.*{PROCESSES}=1"):
            second.result()


def test_it_ends_with_what_it_was_begun_for(tmp_path: Path) -> None:
    def work() -> None:
        (tmp_path / "process").write_text(str(os.getpid()), encoding="ascii")
        time.sleep(60)

    with pytest.raises(KeyboardInterrupt), second_process(work):
        while not (tmp_path / "process").exists() or not (tmp_path / "process").read_text(encoding="ascii"):
            time.sleep(0.01)
        raise KeyboardInterrupt
    assert _gone(int((tmp_path / "process").read_text(encoding="ascii")))


_BEGIN = """
import os, sys, time
from pipeline.store.second_process import second_process
with second_process(lambda: (print(os.getpid(), flush=True), time.sleep(60))):
    time.sleep(60)
"""


def test_it_ends_when_the_first_process_is_killed() -> None:
    with subprocess.Popen([sys.executable, "-c", _BEGIN], stdout=subprocess.PIPE, text=True) as first:
        assert first.stdout is not None
        process = int(first.stdout.readline())
        first.kill()
    assert _soon_gone(process)


def test_without_room_for_a_process_there_is_none(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "fork", lambda: _raise(BlockingIOError(11, "Resource temporarily unavailable")))
    with second_process(lambda: 1) as second:
        assert second is None


def test_one_core_or_a_word_forbids_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "sched_getaffinity", lambda _: {0, 1})
    monkeypatch.delenv(PROCESSES, raising=False)
    assert may_have_second()
    monkeypatch.setenv(PROCESSES, "1")
    assert not may_have_second()
    monkeypatch.setenv(PROCESSES, "2")
    monkeypatch.setattr(os, "sched_getaffinity", lambda _: {0})
    assert not may_have_second()
    monkeypatch.setattr(os, "sched_getaffinity", lambda _: {0, 1})
    monkeypatch.setattr(module.sys, "platform", "darwin")
    assert not may_have_second()


def test_work_to_be_finished_is_waited_for_even_if_what_goes_on_meanwhile_fails(tmp_path: Path) -> None:
    def work() -> None:
        time.sleep(0.2)
        (tmp_path / "done").write_text(str(os.getpid()), encoding="ascii")

    with pytest.raises(ValueError, match="no such chart"), finished_beside(work):
        assert not (tmp_path / "done").exists()
        raise ValueError("no such chart")
    assert (tmp_path / "done").read_text(encoding="ascii") != str(os.getpid())
    with finished_beside(lambda: os.kill(os.getpid(), signal.SIGKILL)):
        pass  # what was stopped stays undone, and nobody is the worse for it


def test_work_to_be_finished_is_done_here_if_no_process_can_be_had(monkeypatch: pytest.MonkeyPatch) -> None:
    def no_process() -> int:
        raise OSError

    monkeypatch.setattr(os, "fork", no_process)
    done: list[int] = []
    with finished_beside(lambda: done.append(os.getpid())):
        assert done == [os.getpid()]
