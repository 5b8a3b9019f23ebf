"""Text that a spreadsheet would run as a formula, kept as text: one rule for every CSV we write.

Such a cell gets an apostrophe in front, and so does one that starts with an apostrophe: taking one away from every cell
that has one gives back what was read.
"""

from __future__ import annotations

import re

FORMULA = "^( *[=+\\-@\t\r\n＝＋－＠'])"
"""Pattern of a risky start, in the syntax of Python and of Arrow; its group is what the apostrophe goes before."""
LED = "'\\1"
_RISKY = re.compile(FORMULA)


def as_text(cell: str) -> str:
    """``cell`` as text that no spreadsheet runs as a formula."""
    return _RISKY.sub(LED, cell)
