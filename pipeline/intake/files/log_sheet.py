"""The printable log sheet: one game on one A4 page, a row per delivery, to be typed into shots.csv afterwards."""

from __future__ import annotations

from string import Template

from pipeline.sport.leaves import PIN_ROWS

_HEADS = (
    ("Frame", "frame"),
    ("Del.", "delivery"),
    ("Lane", "lane"),
    ("Ball", "ball"),
    ("Laydown", "laydown_board"),
    ("Arrow", "arrow_board"),
    ("Breakpoint", "breakpoint_board"),
    ("at ft", "breakpoint_ft"),
    ("Entry board", "entry_board"),
    ("Speed", "speed_mph"),
    ("Pins left standing", "leave"),
    ("Foul", "foul"),
    ("Note", "note"),
)

_PAGE = Template(
    """<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Log sheet for one game</title>
<style>
@page { size: A4 portrait; margin: 9mm; }
body { font: 9pt/1.25 Georgia, serif; color: #111; margin: 0 auto; max-width: 192mm; }
h1 { font-size: 13pt; margin: 0 0 2mm; }
dl { display: grid; grid-template-columns: repeat(4, auto 1fr); gap: 2mm 1.5mm; margin: 0 0 2.5mm; }
dd { margin: 0; border-bottom: 0.3mm solid #111; }
.scroll { overflow-x: auto; }
table { border-collapse: collapse; width: 100%; }
th, td { border: 0.2mm solid #555; padding: 0 1mm; text-align: center; }
thead th { font-size: 7.5pt; font-weight: bold; height: 8mm; background: #eee; }
tbody td, tbody th { height: 10.9mm; }
tbody tr.new > * { border-top: 0.6mm solid #111; }
td.wide { min-width: 26mm; }
.pins { display: grid; gap: 0; font-size: 7.5pt; line-height: 2.65mm; color: #333; }
.pins span { word-spacing: 1.4mm; }
p { margin: 2mm 0 0; }
</style>
</head>
<body>
<main>
<h1>Log sheet: one game</h1>
<dl><dt>Date</dt><dd></dd><dt>Block</dt><dd></dd><dt>Bowler</dt><dd></dd><dt>Game</dt><dd></dd></dl>
<div class="scroll">
<table>
<thead><tr>$heads</tr></thead>
<tbody>
$rows
</tbody>
</table>
</div>
<p>Count boards from your own side. Circle the pins left standing, X for a strike, / for a spare;
after a foul tick the box and leave the pins as they were. Leave a cell empty where you did not see it.
When you type a sheet in, format the column for leaves as text, or a spreadsheet will turn 7-10 into a date.</p>
</main>
</body>
</html>
"""
)


def log_sheet_html() -> str:
    """The page as text: self-contained, without script, and fit for one sheet of A4."""
    heads = "".join(f'<th scope="col">{text}</th>' for text, _ in _HEADS)
    rows = [_row(frame, delivery) for frame in range(1, 11) for delivery in range(1, 4 if frame == 10 else 3)]
    return _PAGE.substitute(heads=heads, rows="\n".join(rows))


def _row(frame: int, delivery: int) -> str:
    start = '<tr class="new">' if delivery == 1 else "<tr>"
    first = f'<th scope="row">{frame}</th><td>{delivery}</td>'
    return start + first + "".join(_cell(name) for _, name in _HEADS[2:]) + "</tr>"


def _cell(name: str) -> str:
    if name == "leave":
        rack = "".join(f"<span>{' '.join(map(str, row))}</span>" for row in PIN_ROWS)
        return f'<td><div class="pins">{rack}</div></td>'
    return '<td class="wide"></td>' if name == "note" else "<td></td>"
