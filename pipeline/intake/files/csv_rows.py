"""Reading CSV records in Python where the database cannot: odd encodings, ragged rows, quoted line ends, maps."""

from __future__ import annotations

import csv
from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

from pipeline.intake.checks.other_spellings import is_no_row
from pipeline.intake.errors import FileRefused
from pipeline.intake.files.column_map import KindMap
from pipeline.intake.files.columns import columns_of
from pipeline.intake.files.sniff import CsvFile

csv.field_size_limit(1 << 20)


@dataclass(frozen=True)
class CsvRow:
    """One row: the line it starts on (the header is line 1), its fields, and a misfit if their number is wrong."""

    line: int
    fields: list[str]
    misfit: str | None


class _Lines:
    """Lines of a text, with those of the present row kept so that they can be read again."""

    def __init__(self, text: Iterable[str]) -> None:
        self._text = iter(text)
        self._again: deque[str] = deque()
        self._read = 0
        self.taken: list[str] = []
        self.ended = False

    def __iter__(self) -> _Lines:
        return self

    def __next__(self) -> str:
        line = self._again.popleft() if self._again else next(self._text, None)
        if line is None:
            self.ended = True
            raise StopIteration
        self._read += 1
        self.taken.append(line)
        return line

    def begin(self) -> int:
        """Begin a row; returns its line."""
        self.taken, self.ended = [], False
        return self._read + 1

    def give_back(self) -> None:
        """Let all lines of the row but its first be read again."""
        again = self.taken[1:]
        self._again.extendleft(reversed(again))
        self._read -= len(again)


def _ran_on(lines: _Lines, delimiter: str, expected: int) -> bool:
    """Whether a quote was left open: the row went on to the end of the file, or took in a line that is a row itself."""
    if lines.ended:
        return True
    return any(len(_fields(line, delimiter)) == expected for line in lines.taken[1:])


def _fields(line: str, delimiter: str) -> list[str]:
    return next(csv.reader([line], delimiter=delimiter), [])


def csv_rows(file: CsvFile) -> Iterator[CsvRow]:
    """All rows after the header; empty lines are no rows. A line with an unclosed quote does not swallow the next.

    Raises:
        FileRefused: a field is endless, or the file cannot be read.
    """
    expected = len(file.places)
    line = 1
    try:
        with file.path.open(encoding=file.encoding, newline="") as text:
            lines = _Lines(text)
            reader = csv.reader(lines, delimiter=file.delimiter)
            next(reader, None)
            while True:
                line = lines.begin()
                fields = next(reader, None)
                if fields is None:
                    return
                if _ran_on(lines, file.delimiter, expected):
                    yield CsvRow(line, _fields(lines.taken[0], file.delimiter), "a quote that is never closed")
                    lines.give_back()
                    continue
                if not any(field.strip() for field in fields):
                    if len(fields) > 1:  # blank but for its delimiters: counted, whatever its width
                        yield CsvRow(line, [""] * expected, None)
                    continue
                number = f"{len(fields)} field{'s' * (len(fields) != 1)}"
                misfit = None if len(fields) == expected else f"{number} instead of {expected}"
                yield CsvRow(line, fields, misfit)
    except csv.Error as error:
        raise FileRefused(f"cannot be read beyond line {line} ({error}); look for a quote never closed") from error
    except OSError as error:
        raise FileRefused(f"cannot be read ({error.strerror}); check its permissions") from error


def values(file: CsvFile, row: CsvRow, columns: KindMap) -> dict[str, str]:
    """Our columns of a record after constants and translations; a ragged row gives what can be placed.

    A row that is blank or a total gets no constants, which would make a record of it.
    """
    fields = [field.strip() for field in row.fields]
    if not any(fields):
        return {}
    texts = {place: text for place, text in zip(file.places, fields, strict=False) if place is not None}
    for place, meant in columns.values.items():
        if place in texts:
            texts[place] = meant.get(texts[place], texts[place])
    if not columns.constants:
        return texts
    asked = (c.name for c in columns_of(file.kind) if c.required and c.name not in columns.constants)
    if is_no_row(texts, asked):
        return texts
    return {**columns.constants, **texts}


def rewrite(file: CsvFile, columns: KindMap, target: Path) -> list[str]:
    """Write ``file`` as plain UTF-8 with our columns, led by ``line`` and ``misfit``.

    Returns:
        The columns of ``target``, in order.
    """
    names = [column.name for column in columns_of(file.kind)]
    with target.open("w", encoding="utf-8", newline="") as text:
        writer = csv.writer(text, lineterminator="\n")
        writer.writerow(["line", "misfit", *names])
        for row in csv_rows(file):
            texts = values(file, row, columns)
            cells = [texts.get(name, "").replace("\r", " ").replace("\n", " ") for name in names]
            writer.writerow([row.line, row.misfit or "", *cells])
    return ["line", "misfit", *names]


def raw_rows(
    file: CsvFile, wanted: Iterable[int], *, plain: bool
) -> Iterator[tuple[int, str, dict[str, str], str | None]]:
    """The rows that start on the ``wanted`` lines (ascending): line, text as read, values by our columns,
    and its misfit.

    ``plain`` says that every line is one row, which is far faster to find.
    """
    if plain:
        with file.path.open("rb") as content:
            read = 0
            for line in wanted:
                raw = next(islice(content, line - read - 1, None), b"")
                read = line
                text = raw.decode(file.encoding).rstrip("\r\n")
                yield line, text, _placed(file, _fields(text, file.delimiter)), None
        return
    targets = iter(wanted)
    target = next(targets, None)
    if target is None:
        return
    for row in csv_rows(file):
        if row.line == target:
            yield row.line, file.delimiter.join(row.fields), _placed(file, row.fields), row.misfit
            target = next(targets, None)


def _placed(file: CsvFile, fields: list[str]) -> dict[str, str]:
    return {place: field.strip() for place, field in zip(file.places, fields, strict=False) if place is not None}
