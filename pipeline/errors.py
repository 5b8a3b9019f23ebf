"""Failures a user can mend; the text of each is one sentence or two that say how."""

TRACEBACK = "RACKLEDGER_TRACEBACK"
"""Environment variable; if set, a failure shows where in the code it happened."""


class RackledgerError(Exception):
    """A failure with a way out. Stages subclass it, one class per kind of failure."""


class NotDeterminedError(RackledgerError, ArithmeticError):
    """The log does not determine the numbers asked for: the likelihood has no maximum, or a matrix is singular.

    Raised by fits that have no answer on some valid logs. The text says what is missing, without a full stop, because
    it becomes part of a sentence.
    """


FAILED_NUMBERS = (ArithmeticError, ValueError, LookupError, TypeError, AssertionError, RuntimeError)
"""What a computation raises if it fails in a way nobody foresaw; never a file, the database, memory or a stop."""


def is_stop(error: BaseException) -> bool:
    """Whether a person stopped the run with Ctrl-C, which may reach us as the database's RuntimeError."""
    return isinstance(error, KeyboardInterrupt) or str(error) == "Query interrupted"


class IntakeError(RackledgerError):
    """A load or a database that could not be used; the message says the way out."""


def printable(text: str) -> str:
    """``text`` on one line: line ends, terminal controls and undecodable bytes are shown as escapes."""
    return "".join(sign if sign.isprintable() else sign.encode("unicode_escape").decode() for sign in text)
