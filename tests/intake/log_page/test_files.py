"""Bowlers, balls, patterns and files of the log page: what it keeps of people, what it opens, and what it saves."""

from __future__ import annotations

import base64
import csv
import hashlib
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.intake.log_page import log_page_html
from tests.intake.log_page.phone import Phone

pytestmark = pytest.mark.browser

Ready = Callable[..., Phone]
STRIKE = (0, False)


def saved(phone: Phone, kind: str) -> list[dict[str, str]]:
    with (phone.folder / f"{kind}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_only_its_own_script_and_style_may_run_and_nothing_may_be_fetched() -> None:
    """Hashes of the policy are those of the parts, by the Content Security Policy standard (level 3, from memory)."""
    page = log_page_html()
    policy = re.search('http-equiv="Content-Security-Policy" content="([^"]*)"', page)
    assert policy is not None
    rules = dict(rule.split(" ", 1) for rule in policy[1].split("; "))
    assert rules["default-src"] == "'none'" and rules["form-action"] == "'none'"
    for part, tag in (("script-src", "script"), ("style-src", "style")):
        inner = re.findall(f"<{tag}>(.*?)</{tag}>", page, re.DOTALL)
        assert len(inner) == 1
        digest = base64.b64encode(hashlib.sha256(inner[0].encode("utf-8")).digest()).decode("ascii")
        assert rules[part] == f"'sha256-{digest}'"
    assert not re.search(r"https?:|//[a-z]|<link|<img|@import|url\(|style=|onclick=|import\(|fetch\(", page)


def test_an_alias_keeps_the_name_out_of_every_file(phone: Phone) -> None:
    """A name typed before the alias was ticked is dropped; the page says why."""
    phone.go("people")
    phone.page.fill("#bowler-form [name=name]", "Robin Example")
    phone.page.fill("#bowler-form [name=bowler]", "Junior 3")
    phone.page.select_option("#bowler-form [name=hand]", "right")
    phone.page.check("#bowler-form [name=alias]")
    assert not phone.page.locator("#bowler-form [name=name]").is_visible()
    assert "guardian" in phone.page.locator("#why-alias").inner_text()
    phone.tap("#bowler-form button")
    phone.add_ball("junior-3", "Moss")
    phone.begin()
    phone.type(STRIKE)
    assert phone.load().rows_quarantined == 0
    assert [(row["bowler"], row["name"]) for row in saved(phone, "bowlers")] == [("junior-3", "")]
    everything = "".join(path.read_text(encoding="utf-8") for path in phone.folder.iterdir())
    kept = phone.page.evaluate("JSON.stringify({ ...localStorage })")
    assert "Robin" not in everything and "Robin" not in kept


def test_a_pattern_without_a_length_loads_as_not_posted(ready: Ready) -> None:
    phone = ready(("wren", "right"))
    phone.begin("3 4", pattern="House shot", block="b2")
    phone.type(STRIKE)
    report = phone.load()
    assert report.rows_quarantined == 0 and report.refused == (), report.lines()
    assert [(row["pattern"], row["name"], row["length_ft"]) for row in saved(phone, "patterns")] == [
        ("house-shot", "House shot", "")
    ]
    assert phone.season("SELECT block, pattern FROM blocks WHERE block = 'b2'") == [("b2", "house-shot")]
    assert phone.season("SELECT length_ft FROM patterns") == [(None,)]


def test_a_pattern_posted_whole_and_met_again(ready: Ready) -> None:
    phone = ready(("wren", "right"))
    phone.begin("3 4", pattern="Heath", block="b2", length_ft="41,5", volume_ml="25", ratio="3.2:1")
    phone.begin("5 6", pattern="Heath", block="b3")
    phone.type(STRIKE)
    assert phone.load().rows_quarantined == 0
    assert phone.season("SELECT pattern, length_ft, volume_ml, ratio FROM patterns") == [("heath", 41.5, 25.0, 3.2)]
    assert phone.season("SELECT pattern FROM blocks WHERE block = 'b3'") == [("heath",)]


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"length_ft": "99"}, "Type a number from"),
        ({"ratio": "flat"}, "Type a number from"),
        ({"pattern": "!!"}, "Type the pattern's name"),
        ({"game": "61"}, "First game: a whole number from 1 to 60."),
        ({"lanes": "none"}, "Type one lane or two"),
        ({"block": "?"}, "Type a name for this session."),
    ],
)
def test_a_session_that_would_not_load_is_not_begun(phone: Phone, typed: dict[str, str], said: str) -> None:
    phone.add_bowler("wren")
    phone.add_ball("wren", "Moss")
    phone.begin(**({"pattern": "Heath", **typed}))  # type: ignore[arg-type]
    assert phone.page.locator("#wrong").inner_text().startswith(said)
    assert phone.page.evaluate("document.activeElement.name") == next(iter(typed))
    phone.go("log")
    assert phone.turn().startswith("No session yet")


@pytest.mark.parametrize("word", ["everyone", "Everyone!"])
def test_no_bowler_is_called_as_all_of_them_are(phone: Phone, word: str) -> None:
    """The load refuses this id, so the page does."""
    phone.add_bowler(word)
    assert phone.page.locator("#wrong").inner_text().startswith("everyone stands for all bowlers")
    assert phone.page.locator("#list h2").count() == 0


def test_nobody_bowls_without_a_ball(phone: Phone) -> None:
    phone.add_bowler("wren")
    phone.begin()
    assert phone.page.locator("#wrong").inner_text() == "wren has no ball yet: add one under Bowlers."


def test_files_opened_keep_their_ids_and_columns(phone: Phone, tmp_path: Path) -> None:
    """A season's own files, one with a mark of order and semicolons, are opened, added to and saved without loss."""
    bowlers, balls, other = (tmp_path / name for name in ("bowlers.csv", "balls.csv", "notes.csv"))
    bowlers.write_text("bowler,name,hand,coach,birth_year\nwren,Wren Example,left,Fell,1990\n", encoding="utf-8")
    balls.write_text(
        "\ufeffball;bowler;name;cover;core;rg_in;spare_ball\nw1;wren;Moss;solid;asymmetric;2.50;no\n"
        'w2;wren;"Chalk; white";polyester;symmetric;;yes\n',
        encoding="utf-8",
    )
    other.write_text("what,when\nx,y\n", encoding="utf-8")
    phone.go("people")
    phone.page.set_input_files("#open", [bowlers, balls, other])
    said = phone.page.locator("#said")
    said.filter(has_text="notes.csv: not read").wait_for()
    assert "bowlers.csv: 1 bowler. balls.csv: 2 balls." in said.inner_text()
    phone.page.set_input_files("#open", [bowlers])  # again: nothing is doubled
    phone.add_ball("wren", "Loam")
    phone.begin()
    assert phone.page.locator("#bag button").all_inner_texts() == ["Moss", "Chalk; white", "Loam"]
    phone.type((1 << 6, False))
    phone.type(STRIKE)
    assert phone.load().rows_quarantined == 0
    assert [(row["ball"], row["leave"]) for row in phone.rows()] == [("w1", "7"), ("w2", "/")]
    assert saved(phone, "bowlers") == [
        {"bowler": "wren", "name": "Wren Example", "hand": "left", "style": "", "coach": "Fell", "birth_year": "1990"}
    ]
    assert phone.season("SELECT rg_in, name FROM balls WHERE ball LIKE 'w_' ORDER BY ball") == [
        (2.5, "Moss"),
        (None, "Chalk; white"),
    ]


def test_a_left_hand_written_short_is_a_left_hand(phone: Phone, tmp_path: Path) -> None:
    """The load takes L for left, so boards must count from the left edge on the page too."""
    bowlers = tmp_path / "bowlers.csv"
    bowlers.write_text("bowler,hand\nwren,L\n", encoding="utf-8")
    phone.go("people")
    phone.page.set_input_files("#open", [bowlers])
    phone.page.locator("#said").filter(has_text="1 bowler").wait_for()
    phone.add_ball("wren", "Moss")
    phone.begin()
    phone.tap("#all-down")
    phone.page.tap("#arrow", position={"x": 20, "y": 20})
    assert phone.load().rows_quarantined == 0
    assert 1 <= float(phone.rows()[0]["arrow_board"]) <= 4
    assert phone.season("SELECT hand FROM bowlers") == [("left",)]


def test_a_block_of_an_earlier_file_is_not_begun_twice(phone: Phone, tmp_path: Path) -> None:
    blocks = tmp_path / "blocks.csv"
    blocks.write_text("block,date,pattern,event\nweek-1,2026-10-07,,league\n", encoding="utf-8")
    phone.add_bowler("wren")
    phone.add_ball("wren", "Moss")
    phone.page.set_input_files("#open", [blocks])
    phone.page.locator("#said").filter(has_text="1 block").wait_for()
    phone.begin(block="Week 1")
    assert phone.page.locator("#wrong").inner_text() == "That block exists: choose another name."


@pytest.mark.parametrize(
    ("who", "ball"),
    [
        ("Total", "Total"),
        ("null", "n/a"),
        ("12", "7"),
        ("\u00d8rn \u00c9", 'The "big" one, red'),
        ("=1+1", "=cmd|x"),
        ("x", "/ F X -1"),
        ("model", "everyone"),
        ("2026-10-07", "10/7"),
        ("NaN", "True"),
        ("fell", '"Moss"'),
    ],
)
def test_whatever_they_are_called_it_loads(phone: Phone, who: str, ball: str) -> None:
    """Odd names of bowlers, balls, sessions and patterns, and an odd note, load with nothing set aside."""
    phone.go("people")
    phone.add_bowler(who, name=ball)
    bowler = phone.page.locator("#ball-form [name=bowler]").input_value()
    phone.add_ball(bowler, ball)
    phone.begin(block=who, pattern=ball, event=ball, centre=who)
    phone.unfold("more")
    phone.page.fill("#extras [name=note]", f'{ball}; "{who}", and')
    phone.page.fill("#extras [name=entry_board]", "17,5")
    phone.tap("#all-down")
    phone.tap("#record")
    report = phone.load()
    assert report.rows_quarantined == 0 and report.refused == (), report.lines()
    assert phone.stored("bowler, entry_board, note") == [(bowler, 17.5, f'{ball}; "{who}", and')]
    assert ball == "n/a" or phone.season("SELECT name FROM balls") == [(ball,)]  # the load takes n/a for no name
    assert len(phone.season("FROM patterns")) == len(phone.season("FROM balls")) == 1


def test_a_board_that_is_none_is_not_recorded(ready: Ready) -> None:
    phone = ready(("wren", "right"))
    phone.unfold("more")
    phone.tap("#all-down")
    for typed in ("41", "-1", "left", "1e1"):
        phone.page.fill("#extras [name=entry_board]", typed)
        phone.tap("#record")
        assert phone.page.locator("#wrong").inner_text().startswith("Entry board: a number from 0 to 40"), typed
    assert phone.due() == "frame 1, delivery 1"
    phone.page.fill("#extras [name=entry_board]", "")
    phone.tap("#record")
    assert phone.due() == "frame 2, delivery 1"


def test_a_wrong_board_that_was_folded_away_is_shown_again(ready: Ready) -> None:
    """And it stays with its own delivery: it does not stop another bowler's."""
    phone = ready(("wren", "right"), ("tarn", "left"))
    phone.unfold("more")
    phone.page.fill("#extras [name=entry_board]", "99")
    phone.tap("#more > summary")
    phone.tap("#all-down")
    phone.tap("#record")
    assert phone.page.locator("#extras [name=entry_board]").is_visible()
    assert phone.page.evaluate("document.activeElement.name") == "entry_board"
    phone.tap("#players button:has-text('tarn')")  # all down stays marked
    phone.tap("#record")
    assert phone.load().rows_quarantined == 0
    assert [(row["bowler"], row["entry_board"]) for row in phone.rows()] == [("tarn", "")]


def test_what_was_used_cannot_be_removed_and_the_rest_can(ready: Ready) -> None:
    phone = ready(("wren", "right"), ("tarn", "left"))
    phone.type(STRIKE)
    phone.go("people")
    removers = [button.get_attribute("aria-label") for button in phone.page.locator("#list button").all()]
    assert removers == ["Remove Chalk", "Remove Moss", "Remove Chalk"]
    for _ in range(2):
        phone.tap("#list button >> nth=1")
    phone.tap("#list [aria-label='Remove tarn']")
    assert phone.load().rows_quarantined == 0
    assert [row["bowler"] for row in saved(phone, "bowlers")] == ["wren"]


def test_several_sessions_are_saved_and_erased_together(ready: Ready) -> None:
    """Each session is a file of its own; nothing is erased before the files are said to have loaded."""
    phone = ready(("wren", "right"))
    phone.type(STRIKE)
    phone.begin(block="second")
    phone.type((1 << 9, False))
    phone.begin(block="third")
    phone.close_and_open()
    phone.type(STRIKE)
    assert phone.load().rows_quarantined == 0 and len(phone.rows()) == 3
    assert len(list(phone.folder.glob("shots_*.csv"))) == 3
    phone.unfold("erase-box")
    phone.tap("#erase")
    assert phone.page.locator("#count").inner_text() == "3 deliveries are kept on this phone."
    phone.page.check("#erase-sure")
    phone.tap("#erase")
    assert phone.page.locator("#count").inner_text() == "No deliveries yet."
    phone.close_and_open()
    phone.go("files")
    assert phone.page.locator("#count").inner_text() == "No deliveries yet."
    assert phone.page.evaluate("Object.keys(localStorage)") == ["shot-log"]
    assert phone.page.locator("#links a").all_inner_texts() == [
        *("Save bowlers.csv", "Save balls.csv", "Save blocks.csv")
    ]
    phone.unfold("erase-box")
    for box in ("#erase-sure", "#erase-all"):
        phone.page.check(box)
    phone.tap("#erase")
    assert phone.page.locator("#links a").count() == 0
    assert "wren" not in phone.page.evaluate("JSON.stringify({ ...localStorage })")


def test_nothing_that_matters_is_chosen_for_you(phone: Phone) -> None:
    """Hand, cover and core have no default that somebody tired would let stand; a ball for spares needs no core."""
    phone.go("people")
    phone.page.fill("#bowler-form [name=bowler]", "wren")
    phone.tap("#bowler-form button")
    assert phone.page.locator("#wrong").inner_text().startswith("Choose the hand")
    phone.page.select_option("#bowler-form [name=hand]", "left")
    phone.tap("#bowler-form button")
    phone.page.fill("#ball-form [name=name]", "Moss")
    phone.tap("#ball-form button")
    assert phone.page.locator("#wrong").inner_text() == "Choose the cover."
    phone.page.select_option("#ball-form [name=cover]", "polyester")
    phone.tap("#ball-form button")
    assert phone.page.locator("#wrong").inner_text().startswith("Choose the core")
    phone.page.check("#ball-form [name=spare_ball]")
    phone.tap("#ball-form button")
    phone.begin()
    phone.type(STRIKE)
    assert phone.load().rows_quarantined == 0
    assert saved(phone, "balls")[0]["core"] == ""


def test_a_browser_that_keeps_nothing_says_so(ready: Ready) -> None:
    phone = ready(("wren", "right"))
    phone.page.evaluate("() => { Storage.prototype.setItem = () => { throw new Error('full'); }; }")
    phone.type(STRIKE)
    assert phone.page.locator("#wrong").inner_text().startswith("Not kept")
    assert phone.load().rows_quarantined == 0 and len(phone.rows()) == 1
