"""Answering questions one by one, so that one that cannot be answered leaves the others whole."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TypeVar, cast

from pipeline.decisions.records import LeftOut
from pipeline.errors import TRACEBACK, RackledgerError

T = TypeVar("T")

_TOO_LITTLE = "these shots do not determine it"
_UNFORESEEN = "the computation failed, which a valid log should not cause; please report it"


@dataclass
class Answers:
    """Answers asked for so far; ``left_out`` holds the questions that had none, with the reason."""

    left_out: list[LeftOut] = field(default_factory=list)

    def ask(self, question: str, answer: Callable[[], T], empty: object) -> T:
        """What ``answer`` returns, or ``empty``, of the same type, with a note if the numbers cannot be computed.

        A failure that concerns the whole run still ends it: a file, the database, memory, or a stop by the user.
        """
        try:
            return answer()
        except (RackledgerError, OSError, MemoryError):
            raise
        except ArithmeticError as error:  # a singular or indefinite matrix, or no maximum
            self._note(question, f"{_TOO_LITTLE} ({error})", error)
        except (ValueError, LookupError, TypeError, AssertionError, RuntimeError) as error:
            self._note(question, f"{_UNFORESEEN} ({type(error).__name__}: {error})", error)
        return cast(T, empty)

    def _note(self, question: str, reason: str, error: Exception) -> None:
        if os.environ.get(TRACEBACK):
            raise error
        self.left_out.append(LeftOut(question=question, reason=reason))
