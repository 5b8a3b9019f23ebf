"""Answer questions one by one, so one that cannot be answered leaves the others whole."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TypeVar, cast

from pipeline.decisions.records import LeftOut
from pipeline.decisions.wording.questions import Question, question_text, too_little, unforeseen
from pipeline.errors import FAILED_NUMBERS, TRACEBACK, NotDeterminedError, RackledgerError, is_stop

T = TypeVar("T")


@dataclass
class Questions:
    """Questions asked one by one; ``left_out`` holds those without an answer, with the reason."""

    left_out: list[LeftOut] = field(default_factory=list)

    def ask(self, question: Question, answer: Callable[[], T], empty: object) -> T:
        """What ``answer`` returns; if the numbers cannot be computed, ``empty``, of the same type, and a note.

        A failure that concerns the whole run still ends it: a file, the database, memory, or a stop by the user.

        Args:
            question: what is asked; ``wording/questions`` has its words.
            answer: computes the answer.
            empty: the answer if there is none.
        """
        try:
            return answer()
        except NotDeterminedError as error:
            self._leave_out(question, too_little(error))
        except RackledgerError:
            raise
        except FAILED_NUMBERS as error:
            if os.environ.get(TRACEBACK) or is_stop(error):
                raise
            self._leave_out(question, unforeseen(error))
        return cast(T, empty)

    def _leave_out(self, question: Question, reason: str) -> None:
        self.left_out.append(LeftOut(question=question_text(question), reason=reason))
