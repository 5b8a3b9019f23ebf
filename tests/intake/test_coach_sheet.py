"""One messy but honest spreadsheet, as a coach keeps it: each habit of it works, or one sentence says what to do."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.intake.check import Checked, check_folder
from tests.intake.logs import ask, load

BOWLERS = """bowler,name,Hand,style,coach,birth_year,email
jo,Jo,R,1H,Sam (Tuesdays),2009,
kim,Kim,L,two handed,"Sam, Alex",n/a,
robin,Robin,both,1-handed,-,1988,
,,,,,,
Total,3,,,,,
"""
BALLS = """ball,bowler,name,cover,core,rg_in,diff_in,surface_grit,spare_ball,games_before,colour
j1,jo,Big Blue,solid reactive,asym,2.48 in,0.052,#2000,no,40 games,blue
j2,jo,Clear,plastic,,,,?,yes,,clear
k1,kim,K,Hybrid,asymmetrical,2.50,.045,3000,N,n/a,
k1,jo,K,Hybrid,asymmetrical,2.50,.045,3000,N,10,
"""
PATTERNS = """pattern,name,length_ft,volume_ml,ratio
house,House,41 ft,24 ml,8:1
mystery,Mystery,,,
"""
BLOCKS = """block,date,pattern,event,centre
tue,2026-03-03 00:00:00,house,league,
wed,04/03/2026,mystery,practice,
sat,14/03/2026,hosue,baker,
sun,15-Mar-2026,,team,
"""
CARE = """date,ball,action,grit,note
2026-03-10 00:00:00,j1,Resurfaced,2000 grit,"took ages, did it myself"
13/03/2026,Big Blue,cleaned,-,
"""
HEADER = "date,block,bowler,lane,game,frame,delivery,ball,arrow,entry_board,speed_kmh,breakpoint_ft,leave,mood"
BLANK, TOTAL = "," * 13, "Total,,,,30,55,,,,,,,180,"
SHOTS = """2026-03-03 00:00:00,tue,jo,11,1,1,1,j1,12,17.5,28,41 ft,10.0,fine
2026-03-03 00:00:00,tue,jo,11,1,1,2,j2,12,17.5,28,41 ft,spare,
2026-03-03 00:00:00,tue,jo,11,1,2,1,j1,12,?,28,41 ft,#10,
2026-03-03 00:00:00,tue,jo,11,1,2,2,j2,12,-,n/a,41 ft,/,
2026-03-03 00:00:00,tue,jo,11,1,3,1,j1,12,17,28,41 ft,s6-10,
2026-03-03 00:00:00,tue,jo,11,1,3,2,j2,12,17,28,41 ft,6,
2026-03-03 00:00:00,tue,jo,11,1,4,1,j1,12,17,28,41 ft,6/10,
2026-03-03 00:00:00,tue,jo,11,1,4,2,j2,12,17,28,41 ft,-,
2026-03-03 00:00:00,tue,jo,11,1,5,1,j1,12,17,28,41 ft,strike,
3/3/2026,tue,kim,12,1,1,1,k1,12,17,28,41 ft,4-7,
3/3/2026,tue,kim,12,1,1,2,k1,12,17,28,41 ft,7,
14/03/2026,sat,jo,5,1,1,1,j1,12,17,28,41 ft,X,
14/03/2026,sat,kim,5,1,2,1,k1,12,17,28,41 ft,X,
15-Mar-2026,sun,jo,7,1,1,1,j1,12,17,28,41 ft,X,
15-Mar-2026,sun,kim,8,1,1,1,k1,12,17,28,41 ft,X,""".splitlines()
PRACTICE = "04/03/2026,wed,jo,3,,,,j1,12,17,28,41 ft,X,"
BOTH_HANDS = "04/03/2026,wed,robin,3,1,1,1,j1,12,17,28,41 ft,X,"
SHARED = "04/03/2026,wed,kim,3,1,1,1,j1,12,17,28,41 ft,X,"


def sheet(folder: Path, *rows: str, above: str = "") -> Path:
    folder.mkdir()
    texts = {"bowlers": BOWLERS, "balls": BALLS, "patterns": PATTERNS, "blocks": BLOCKS, "maintenance": CARE}
    for kind, text in texts.items():
        (folder / f"{kind}.csv").write_text(text, encoding="utf-8")
    (folder / "shots.csv").write_text(above + "\n".join([HEADER, *rows]) + "\n", encoding="utf-8")
    return folder


def causes(checked: Checked) -> dict[tuple[str, str, str | None], str]:
    """(file, column, value) -> reason and mend."""
    return {(c.file, c.column, c.value): f"{c.reason}. {c.mend}" for c in checked.causes}


def test_every_habit_that_has_one_meaning_is_read(tmp_path: Path) -> None:
    folder = sheet(tmp_path / "logs", *SHOTS[:9], BLANK, TOTAL, *SHOTS[9:], BLANK)
    checked = check_folder(folder)
    assert {(file, value) for file, _, value in causes(checked)} == {
        ("bowlers.csv", "both"), ("balls.csv", "k1"), ("maintenance.csv", "Big Blue")
    }  # fmt: skip
    shots = next(file for file in checked.report.files if file.name == "shots.csv")
    assert (shots.kept, shots.quarantined, shots.skipped, shots.repaired) == (15, 0, 3, 1)
    assert shots.unused == "arrow (nearest of ours: arrow_board), mood"
    load(folder)
    assert ask(folder, "SELECT count(*), round(avg(speed_mph), 1), min(breakpoint_ft) FROM deliveries") == [
        (15, 17.4, 41)
    ]
    assert ask(folder, "SELECT spare_ball, core FROM balls WHERE ball = 'j2'") == [(True, "symmetric")]
    assert ask(folder, "SELECT coach FROM bowlers ORDER BY bowler") == [("Sam (Tuesdays)",), ("Sam, Alex",)]
    assert ask(folder, "SELECT length_ft FROM patterns ORDER BY pattern") == [(41,), (None,)]
    # one bowler's frames of a baker game, and two bowlers' own games of a team match on one pair
    together = "SELECT block, count(*) FROM deliveries WHERE block IN ('sat', 'sun') GROUP BY ALL ORDER BY ALL"
    assert ask(folder, together) == [("sat", 2), ("sun", 2)]


def test_every_other_habit_comes_with_one_sentence_on_what_to_do(tmp_path: Path) -> None:
    checked = check_folder(sheet(tmp_path / "logs", *SHOTS, PRACTICE, BOTH_HANDS, SHARED))
    mends = causes(checked)
    twice = "List a bowler who uses both hands twice, once for each hand, under ids of their own."
    assert mends["bowlers.csv", "hand", "both"].endswith(twice)
    shared = "list a shared ball once for each bowler, under ids of their own."
    assert mends["balls.csv", "ball", "k1"].endswith(shared) and mends["shots.csv", "ball", "j1"].endswith(shared)
    assert "number practice as games of ten frames" in mends["shots.csv", "game", ""]
    assert mends["maintenance.csv", "ball", "Big Blue"].startswith("unknown ball.")
    (note,) = checked.report.notes
    assert note.startswith("2 blocks name a pattern without a length (hosue: did you mean house?, mystery)")
    assert checked.report.rows_quarantined == 6


@pytest.mark.parametrize("above", ["Spring 2026\n", "Spring 2026,,,,,,,,,,,,,\n\n"])
def test_a_title_above_the_column_names_is_pointed_at(tmp_path: Path, above: str) -> None:
    folder = sheet(tmp_path / "logs", *SHOTS)
    (folder / "shots_more.csv").write_text(above + HEADER + "\n" + SHOTS[0] + "\n", encoding="utf-8")
    first = check_folder(folder).lines()[0]
    line = above.count("\n") + 1
    assert first == (
        f"shots_more.csv: would be refused, it has its column names on line {line}; remove what stands above them."
    )


def test_a_column_of_another_name_is_offered_for_one_that_is_missing(tmp_path: Path) -> None:
    folder = sheet(tmp_path / "logs", *SHOTS)
    text = (
        (folder / "shots.csv").read_text(encoding="utf-8").replace(",ball,", ",ball used,").replace("leave,", "leaves,")
    )
    (folder / "shots_more.csv").write_text(text, encoding="utf-8")
    assert check_folder(folder).lines()[0].endswith("in a column map (perhaps ball_used for ball, leaves for leave).")


# 4/3/2026 alone could be two days; the day of the block tells which.
@pytest.mark.parametrize(("date", "day"), [("04/03/2026", "2026-03-04"), ("03/04/2026", "2026-03-04")])
def test_dates_that_could_be_two_days_are_read_by_the_days_of_their_blocks(tmp_path: Path, date: str, day: str) -> None:
    same_both_ways = SHOTS[9]  # 3/3/2026, which speaks for neither order
    folder = sheet(tmp_path / "logs", SHOTS[0].replace("2026-03-03 00:00:00,tue", f"{date},wed"), same_both_ways)
    load(folder)
    assert ask(folder, "SELECT date::VARCHAR FROM deliveries WHERE block = 'wed'") == [(day,)]


def test_blocks_that_disagree_on_the_order_of_day_and_month_decide_nothing(tmp_path: Path) -> None:
    rows = [
        SHOTS[0].replace("2026-03-03 00:00:00,tue", f"{date},{b}")
        for date, b in (("04/03/2026", "wed"), ("03/04/2026", "wed"))
    ]
    rows[1] = rows[1].replace(",1,1,1,j1", ",1,2,1,j1")
    checked = check_folder(
        sheet(tmp_path / "logs", SHOTS[1].replace(",1,1,2,j2", ",2,1,1,j2").replace("spare", "X"), *rows)
    )
    assert {column for file, column, _ in causes(checked) if file == "shots.csv"} == {"date"}


def test_pin_counts_in_one_file_of_a_bowler_are_asked_about(tmp_path: Path) -> None:
    folder = sheet(tmp_path / "logs", *SHOTS)
    more = [
        f"2026-03-04,wed,jo,3,{g},{f},1,j1,12,17,28,41,{6 + (g + f) % 4}," for g in range(1, 6) for f in range(1, 11)
    ]
    honest = [f"2026-03-15,sun,jo,3,{g},{f},1,j1,12,17,28,41,3-10," for g in range(2, 8) for f in range(1, 11)]
    (folder / "shots_counts.csv").write_text("\n".join([HEADER, *more]) + "\n", encoding="utf-8")
    (folder / "shots_pins.csv").write_text("\n".join([HEADER, *honest]) + "\n", encoding="utf-8")
    notes = check_folder(folder).report.notes
    assert [note[:44] for note in notes if "single pin" in note] == ["jo in shots_counts.csv: 50 of 50 leaves are "]
