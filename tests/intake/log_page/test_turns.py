"""Turns, lanes, games and undo on the log page, with several bowlers on a pair."""

from __future__ import annotations

import random
from collections.abc import Callable

import pytest

from pipeline.sport.leaves import from_pins
from tests.intake.log_page.phone import Phone, game_of

pytestmark = pytest.mark.browser

Ready = Callable[..., Phone]
STRIKE = (0, False)
OPEN_FRAME = game_of((7, 2))


def places(phone: Phone) -> list[tuple[str, int, int, int]]:
    """Bowler, lane, game and frame of each delivery, in the order they were logged."""
    return [(row["bowler"], int(row["lane"]), int(row["game"]), int(row["frame"])) for row in phone.rows()]


def test_two_bowlers_take_turns_on_a_pair(ready: Ready) -> None:
    """Each bowls a frame in turn and changes lane with every frame (common practice on a pair of lanes)."""
    phone = ready(("wren", "right"), ("tarn", "left"))
    for _ in range(2):
        phone.type(STRIKE)
        for shot in OPEN_FRAME:
            phone.type(shot)
    assert phone.load().rows_quarantined == 0
    assert places(phone) == [
        *[("wren", 11, 1, 1), ("tarn", 11, 1, 1), ("tarn", 11, 1, 1)],
        *[("wren", 12, 1, 2), ("tarn", 12, 1, 2), ("tarn", 12, 1, 2)],
    ]


def test_one_who_was_late_is_taken_first_by_a_touch_and_catches_up(ready: Ready) -> None:
    phone = ready(("wren", "right"), ("tarn", "left"))
    phone.tap("#players button:has-text('tarn')")
    phone.type(STRIKE)
    assert phone.turn() == "wren frame 1, delivery 1"
    phone.tap("#players button:has-text('tarn')")
    phone.type(STRIKE)
    assert phone.turn() == "wren frame 1, delivery 1"
    phone.type(STRIKE)
    assert phone.turn() == "wren frame 2, delivery 1"
    assert phone.load().rows_quarantined == 0


def test_two_who_finish_in_their_own_time_go_on_to_the_next_game(ready: Ready) -> None:
    phone = ready(("wren", "right"), ("tarn", "left"))
    for _ in range(10):  # wren's tenth frame has two deliveries more than tarn's two
        phone.type(STRIKE)
        if phone.turn().startswith("wren frame 10"):
            phone.type(STRIKE)
            phone.type(STRIKE)
        for shot in OPEN_FRAME:
            phone.type(shot)
    assert phone.turn() == "wren frame 1, delivery 1"
    assert phone.where().startswith("Lane 11, game 2")
    assert phone.load().rows_quarantined == 0
    assert sorted(phone.scores()) == [90, 300]


def test_a_game_left_unfinished_and_the_next_one_begun(ready: Ready) -> None:
    phone = ready(("wren", "right"), ("tarn", "left"))
    phone.type(STRIKE)
    for shot in OPEN_FRAME[:1]:
        phone.type(shot)  # tarn is called away with pins standing
    phone.unfold("lane-box")
    phone.tap("#next-game")
    for _ in range(12):
        if phone.turn().startswith("tarn"):
            phone.tap("#players button:has-text('wren')")
        phone.type(STRIKE)
    assert phone.turn() == "tarn frame 1, delivery 1"  # a full rack, not what was left in the game before
    phone.type(STRIKE)
    report = phone.load()
    assert report.rows_quarantined == 0, report.lines()
    assert [place[2] for place in places(phone)] == [1, 1, *[2] * 13]
    assert phone.scores() == [300]


def test_one_goes_home_and_the_other_bowls_on(ready: Ready) -> None:
    phone = ready(("wren", "right"), ("tarn", "left"))
    phone.type(STRIKE)
    phone.go("session")
    phone.page.uncheck("#who [value=tarn]")
    phone.go("log")
    phone.type(STRIKE)
    phone.go("session")
    phone.page.check("#who [value=tarn]")
    phone.go("log")
    phone.type(STRIKE)
    assert phone.load().rows_quarantined == 0
    assert [(who, frame) for who, _, _, frame in places(phone)] == [("wren", 1), ("wren", 2), ("tarn", 1)]


def test_another_lane_and_another_pair(ready: Ready) -> None:
    phone = ready(("wren", "right"))
    phone.type(STRIKE)
    phone.unfold("lane-box")
    phone.tap("#swap")
    phone.type(STRIKE)
    phone.page.fill("#lanes-form [name=lanes]", "21-22")
    phone.tap("#lanes-form button")
    phone.type(STRIKE)
    phone.page.fill("#lanes-form [name=lanes]", "7")
    phone.tap("#lanes-form button")
    phone.type(STRIKE)
    phone.type(STRIKE)
    assert phone.load().rows_quarantined == 0
    assert [lane for _, lane, _, _ in places(phone)] == [11, 11, 21, 7, 7]


def test_no_lane_that_is_none(ready: Ready) -> None:
    phone = ready(("wren", "right"))
    phone.unfold("lane-box")
    for typed in ("", "0", "501", "11 12 13", "next"):
        phone.page.evaluate("say('')")
        phone.page.fill("#lanes-form [name=lanes]", typed)
        phone.tap("#lanes-form button")
        assert phone.page.locator("#wrong").inner_text().startswith("Lanes: one lane or two, each from 1 to 500"), typed
    assert phone.where().startswith("Lane 11")


def test_undo_across_frames_gives_each_delivery_back_to_mend(ready: Ready) -> None:
    """Back over the end of a frame, of another bowler's turn and of a closed page; then two are typed anew."""
    phone = ready(("wren", "right"), ("tarn", "left"))
    phone.touch((from_pins([10]), False), 11)
    phone.touch((from_pins([10]), False), 22)
    phone.touch((from_pins([7]), False), 13)
    phone.close_and_open()
    assert phone.turn() == "tarn frame 1, delivery 2"
    phone.tap("#undo")
    assert phone.turn() == "tarn frame 1, delivery 1"
    assert phone.marked() == [7] and phone.page.locator("#board").inner_text() == "board 13"
    phone.close_and_open()
    phone.tap("#undo")
    assert phone.turn() == "wren frame 1, delivery 2"
    assert phone.marked() == [10] and phone.page.locator("#board").inner_text() == "board 22"
    phone.tap("#all-down")
    phone.touch_board(23)
    phone.touch((from_pins([4]), False), 14)
    report = phone.load()
    assert report.rows_quarantined == 0 and report.rows_kept > 3
    assert [(row["bowler"], row["leave"], row["arrow_board"]) for row in phone.rows()] == [
        *[("wren", "10", "11"), ("wren", "/", "23"), ("tarn", "4", "14")]
    ]


def test_undo_retraces_every_step(ready: Ready) -> None:
    """A random evening of deliveries, turns, lanes and games: each undo gives the state before, to the start."""
    phone = ready(("wren", "right"), ("tarn", "left"))
    chance = random.Random(11)
    steps = []
    for _ in range(120):
        kind = chance.random()
        turn = {"type": "turn", "bowler": chance.choice(["wren", "tarn"])}
        lanes = {"type": "lanes", "lanes": chance.choice([[11, 12], [3], [40, 41]])}
        other = chance.choice([turn, {"type": "swap"}, lanes, {"type": "game", "game": chance.randint(1, 4)}])
        steps.append([chance.randint(0, 1023), chance.random() < 0.1] if kind < 0.8 else other)
    before, after = phone.page.evaluate(
        """(steps) => {
            const before = [];
            for (const step of steps) {
                const stand = JSON.stringify(currentStand());
                if (!Array.isArray(step)) addEvent(step);
                else {
                    state.draft = { ...emptyDraft(), standing: step[0] & currentStand().facing, foul: step[1] };
                    recordDraft();
                }
                before.push(stand);
            }
            readKept(); // as after a closed page
            const after = steps.map(() => (undoLast(), JSON.stringify(currentStand())));
            return [before, after.reverse()];
        }""",
        steps,
    )
    assert len(set(before)) > 60
    assert after == before


def test_undo_at_the_start_does_nothing(ready: Ready) -> None:
    phone = ready(("wren", "right"))
    assert phone.page.locator("#undo").is_disabled()
    phone.page.keyboard.press("Backspace")
    assert phone.turn() == "wren frame 1, delivery 1"


def test_the_game_is_listed_with_its_running_score(ready: Ready) -> None:
    """A strike is open until two more deliveries, a spare until one more (as in ``tests/scoring.py``)."""
    phone = ready(("wren", "right"))
    for shot in game_of((10, 7, 3, 9, 0)):
        phone.type(shot)
    phone.unfold("game")
    lines = [line.locator("*").all_inner_texts() for line in phone.page.locator("#frames li").all()]
    assert lines == [["strike", "20"], ["8-9-10", "spare", "39"], ["10", "10", "48"]]
    assert phone.where() == "Lane 12, game 1, 48 after frame 3"


def test_the_score_of_a_finished_game_stays_in_sight(ready: Ready) -> None:
    phone = ready(("wren", "right"))
    for _ in range(12):
        phone.type(STRIKE)
    assert phone.where() == "Lane 11, game 2; 300 in game 1"


def test_whoever_comes_late_begins_with_the_game_of_the_others(ready: Ready) -> None:
    phone = ready(("wren", "right"))
    for _ in range(13):
        phone.type(STRIKE)
    phone.add_bowler("tarn", "left")
    phone.add_ball("tarn", "Loam")
    phone.go("session")
    phone.page.check("#who [value=tarn]")
    phone.go("log")
    assert phone.turn() == "tarn frame 1, delivery 1" and phone.where() == "Lane 11, game 2"
    phone.type(STRIKE)
    assert phone.load().rows_quarantined == 0
    assert places(phone)[-2:] == [("wren", 11, 2, 1), ("tarn", 11, 2, 1)]


def test_what_was_marked_under_the_wrong_name_need_not_be_marked_again(ready: Ready) -> None:
    phone = ready(("wren", "right"), ("tarn", "left"))
    phone.touch((from_pins([4, 7]), False), 12)
    phone.tap("#undo")
    phone.tap("#players button:has-text('tarn')")
    assert phone.marked() == [4, 7]
    phone.touch_board(20)
    assert phone.load().rows_quarantined == 0
    assert [(row["bowler"], row["leave"], row["ball"]) for row in phone.rows()] == [("tarn", "4-7", "tarn-moss")]


def test_undo_brings_back_one_who_went_home(ready: Ready) -> None:
    phone = ready(("wren", "right"), ("tarn", "left"))
    phone.type(STRIKE)
    phone.type((from_pins([7]), False))
    phone.go("session")
    phone.page.uncheck("#who [value=tarn]")
    phone.go("log")
    phone.tap("#undo")
    assert phone.turn() == "tarn frame 1, delivery 1" and phone.marked() == [7]


def test_two_pairs_by_turns_and_a_false_start(ready: Ready) -> None:
    """An earlier session goes on where it stood; one begun by mistake goes without a trace."""
    phone = ready(("wren", "right"))
    phone.begin("21 22", block="second-pair")
    phone.type(STRIKE)
    phone.begin("1 2", block="mistake")
    for lane, block in (("11", "s-"), ("22", "second-pair"), ("12", "s-")):
        phone.close_and_open()
        phone.go("session")
        phone.unfold("earlier-box")
        phone.tap(f"#earlier button:has-text('Go on with {block}')")
        assert phone.where().startswith(f"Lane {lane}, game 1")
        phone.type(STRIKE)
    phone.close_and_open()
    assert phone.load().rows_quarantined == 0
    assert sorted(places(phone)) == [("wren", lane, 1, frame) for lane, frame in ((11, 1), (12, 2), (21, 1), (22, 2))]
    assert {block for (block,) in phone.season("SELECT block FROM blocks")} == {"s-2026-10-07", "second-pair"}
    assert {block for (block,) in phone.season("SELECT block FROM blocks")} == {row["block"] for row in phone.rows()}


def test_no_mark_goes_over_to_one_who_faces_other_pins(ready: Ready) -> None:
    """A strike marked for one is not a spare of the other."""
    phone = ready(("wren", "right"), ("tarn", "left"))
    phone.type((from_pins([10]), False))
    phone.tap("#players button:has-text('tarn')")
    phone.tap("#all-down")
    phone.tap("#players button:has-text('wren')")
    assert phone.turn() == "wren frame 1, delivery 2"
    assert phone.page.locator("#record").inner_text() == "Mark what stands"
