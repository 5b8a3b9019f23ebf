"""Answering questions one by one, so that one that cannot be answered leaves the others whole."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TypeVar, cast

from pipeline.decisions.records import LeftOut
from pipeline.errors import FAILED_NUMBERS, TRACEBACK, NotDeterminedError, RackledgerError, is_stop

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

        Args:
            question: in the words of the report; it stands in a list after "Not in this report:".
            answer: computes the answer.
            empty: what stands for the answer if there is none.
        """
        try:
            return answer()
        except NotDeterminedError as error:
            self.left_out.append(LeftOut(question=question, reason=f"{_TOO_LITTLE} ({error})"))
        except RackledgerError:
            raise
        except FAILED_NUMBERS as error:
            if os.environ.get(TRACEBACK) or is_stop(error):
                raise
            reason = f"{_UNFORESEEN} ({type(error).__name__}: {error})"
            self.left_out.append(LeftOut(question=question, reason=reason))
        return cast(T, empty)
