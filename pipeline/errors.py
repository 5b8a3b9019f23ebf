"""The one base of every failure a user can mend; its text is a single sentence that says how."""


class RackledgerError(Exception):
    """A failure with a way out. Stages subclass it, one class a kind of failure."""


def printable(text: str) -> str:
    """``text`` on one line: line ends, terminal controls and undecodable bytes are shown as escapes."""
    return "".join(sign if sign.isprintable() else sign.encode("unicode_escape").decode() for sign in text)
