"""The page accepts exactly the deliveries that the load accepts: its own rules against the pipeline's, game by game."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, field

import pytest

from pipeline.intake import load_folder
from pipeline.intake.checks.frames import Mark, Outcome, check_frame
from pipeline.sport.leaves import FULL_RACK, mirror, pins
from tests.intake.log_page.phone import Phone
from tests.scoring import Delivery, score_game

pytestmark = pytest.mark.browser

GAMES = 60
"""Games in one block: as many as the columns allow."""
BLOCKS = (("wren", "right"), ("tarn", "left"), ("wren", "right"), ("tarn", "left"), ("wren", "right"))

_PLAY = """([bowler, block, attempts]) => {
    startSession({ date: "2026-10-07", block, lanes: [11, 12], game: 1, order: [bowler], out: [] });
    state.refs.blocks.push({ block, date: "2026-10-07", pattern: "" });
    let scores = [];
    const answers = attempts.map(([standing, foul]) => {
        const stand = currentStand();
        state.draft = { ...emptyDraft(), standing, foul };
        const event = recordDraft();
        if (event) scores[stand.game] = scoresOf(currentStand().players[bowler]);
        return event && [stand.game, stand.frame, stand.delivery, stand.facing, stand.fresh];
    });
    return { answers, scores };
}"""


@dataclass
class Reference:
    """What the pipeline's own rules say of deliveries in turn: they alone decide when a frame or a game is over."""

    left_handed: bool
    game: int = 1
    frame: int = 1
    marks: list[Mark] = field(default_factory=list)
    facing: int = FULL_RACK
    felled: dict[int, list[Delivery]] = field(default_factory=dict)

    def take(self, standing: int, foul: bool) -> list[object] | None:
        """Where the delivery belongs and what it faced (game, frame, delivery, facing, fresh), None if refused."""
        mark = Mark("F", True) if foul else Mark("-".join(map(str, pins(standing))) or "0", False)
        result = self._check([*self.marks, mark])
        if isinstance(result, Outcome):
            self.marks.append(mark)
            facing = mirror(result.facing) if self.left_handed else result.facing
            left = mirror(result.standing) if self.left_handed else result.standing
            place: list[object] = [self.game, self.frame, len(self.marks), facing, result.first_ball]
            down = (facing & ~left).bit_count()
            self.felled.setdefault(self.game, []).append(Delivery(0 if foul else down, foul))
            self._move_on()
            return place
        return None

    def _check(self, marks: list[Mark]) -> object:
        padded = [*marks, None, None][:3]
        return check_frame(padded, tenth=self.frame == 10, left_handed=self.left_handed)[len(marks) - 1]

    def _move_on(self) -> None:
        """A frame is over once the pipeline takes no further delivery of it, not even one that fells nothing."""
        following = self._check([*self.marks, Mark("-", False)]) if len(self.marks) < 3 else None
        if isinstance(following, Outcome):
            self.facing = mirror(following.facing) if self.left_handed else following.facing
            return
        self.marks, self.facing = [], FULL_RACK
        self.game, self.frame = (self.game, self.frame + 1) if self.frame < 10 else (self.game + 1, 1)


def attempts(reference: Reference, chance: random.Random) -> Iterator[tuple[tuple[int, bool], list[object] | None]]:
    """Deliveries tried until the games are full, legal and not, each with what the pipeline says of it."""
    while reference.game <= GAMES:
        strikes = 0.85 if reference.game % 3 == 0 else 0.3  # many tenth frames with three deliveries
        kind = chance.random()
        if kind < (0.15 if reference.facing == FULL_RACK else 0.4):
            standing = chance.randint(0, FULL_RACK)  # any pins, often some that are down
        elif kind < 0.15 + 0.85 * strikes:
            standing = 0
        elif kind < 0.93:
            standing = reference.facing & chance.randint(0, FULL_RACK)
        else:
            standing = reference.facing
        tried = (standing, chance.random() < 0.06)
        yield tried, reference.take(*tried)


def test_what_the_page_accepts_is_what_the_load_accepts(phone: Phone) -> None:
    """Three hundred random games of both hands; frames by ``check_frame``, scores by ``score_game``, then the load."""
    chance = random.Random(18)
    for bowler, hand in dict(BLOCKS).items():
        phone.add_bowler(bowler, hand)
        phone.add_ball(bowler, "Moss")
    refused, totals = 0, []
    for number, (bowler, hand) in enumerate(BLOCKS):
        reference = Reference(hand == "left")
        tried, expected = zip(*attempts(reference, chance), strict=True)
        shown = phone.page.evaluate(_PLAY, [bowler, f"b{number}", tried])
        assert shown["answers"] == list(expected)
        refused += expected.count(None)
        for game in range(1, GAMES + 1):
            score = score_game(reference.felled[game])
            assert shown["scores"][game] == list(score.frames) and score.total is not None
            totals.append(score.total)
    assert refused > 400 and len(totals) == 300 and min(totals) < 60 and max(totals) > 250
    phone.save()
    report = load_folder(phone.folder, phone.folder.parent / "season.duckdb")
    assert report.rows_quarantined == 0 and report.refused == (), report.lines()
    assert sorted(phone.scores()) == sorted(totals)


def test_a_delivery_without_an_answer_is_refused(phone: Phone) -> None:
    phone.add_bowler("wren")
    phone.add_ball("wren", "Moss")
    phone.begin()
    phone.touch_board(12)
    phone.tap("#record", force=True)  # it says that it is disabled, and still answers
    assert phone.page.locator("#wrong").inner_text() == "Mark the pins that stand, or all down, first."
    assert phone.due() == "frame 1, delivery 1"
    phone.tap("#all-down")
    assert phone.page.locator("#wrong").inner_text() == ""  # mended, and no longer complained of


def test_a_pin_that_is_down_cannot_be_marked(phone: Phone) -> None:
    phone.add_bowler("wren")
    phone.add_ball("wren", "Moss")
    phone.begin()
    phone.type((0b1000000000, False))
    phone.page.keyboard.press("7")
    assert phone.page.locator("#record").inner_text() == "Mark what stands"
    assert phone.page.locator("[data-pin='7']").is_disabled()
    assert phone.page.locator("[data-pin='10']").is_enabled()


def test_no_delivery_belongs_to_a_game_past_the_last(phone: Phone) -> None:
    """Columns hold 60 games per block; the page says so before the load would."""
    phone.add_bowler("wren")
    phone.add_ball("wren", "Moss")
    phone.begin(game="60")
    for _ in range(12):
        phone.type((0, False))
    phone.type((0, False))
    assert "new session" in phone.page.locator("#wrong").inner_text()
    assert phone.load().rows_quarantined == 0 and len(phone.rows()) == 12
    assert phone.scores() == [300]
