"""What is printed while a command works: a bar for a person at a terminal, nothing into a file or under --quiet."""

from __future__ import annotations

import io
import sys

import pytest

from pipeline import console, options


class _Stream(io.StringIO):
    def __init__(self, *, terminal: bool) -> None:
        super().__init__()
        self.terminal = terminal

    def isatty(self) -> bool:
        return self.terminal


@pytest.mark.parametrize(
    ("terminal", "quiet", "shown"), [(True, False, True), (True, True, False), (False, False, False)]
)
def test_progress_is_drawn_on_a_terminal_alone(
    monkeypatch: pytest.MonkeyPatch, terminal: bool, quiet: bool, shown: bool
) -> None:
    stream = _Stream(terminal=terminal)
    monkeypatch.setattr(sys, "stderr", stream)
    monkeypatch.setattr(options, "is_quiet", lambda: quiet)
    monkeypatch.setenv("TERM", "xterm")
    with console.progress_bar() as progress:
        progress("counting pins", 0.5)
    assert ("counting pins" in stream.getvalue()) is shown
