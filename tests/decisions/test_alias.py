"""No real name, id, ball or block is left in aliased decisions, hostile names included."""

from __future__ import annotations

import hashlib
import json
import re
from collections import Counter
from dataclasses import replace

import pytest

from pipeline.decisions.alias import alias
from pipeline.decisions.records import Decisions
from pipeline.decisions.wording.names import Names, ball_named, bowler_named
from pipeline.decisions.wording.names import named as with_names
from tests.decisions.referring import referring
from tests.reports.factory import season
from tests.reports.invented_names import BALLS, BOWLERS

SALT = "0123456789abcdef"


def strings(value: object) -> list[str]:
    if isinstance(value, str):
        return [value]
    if isinstance(value, dict):
        return [text for inner in value.values() for text in strings(inner)]
    return [text for inner in value for text in strings(inner)] if isinstance(value, list) else []


@pytest.fixture(scope="module")
def hidden() -> Decisions:
    return alias(*named(), SALT)[0]


def named() -> tuple[Decisions, Names]:
    """The invented season with names worked into every kind of sentence, and into the title that somebody wrote."""
    whole = season()
    first = whole.summary.bowlers[0].model_copy(update={"coach": "coach-77"})
    summary = whole.summary.model_copy(
        update={"bowlers": [first, *whole.summary.bowlers[1:]], "notes": ["Wren Alder's blocks have no entry board."]}
    )
    focus = [
        record.model_copy(update={"sentence": "Wren Alder should practise with the Amber Drift."})
        for record in whole.focus
    ]
    answered, names = referring(whole.model_copy(update={"summary": summary, "focus": focus}))
    return answered.model_copy(update={"title": "Season of Wren Alder"}), names


def test_no_real_name_is_left(hidden: Decisions) -> None:
    text = "\n".join(strings(json.loads(hidden.model_dump_json())))
    for name in [*BOWLERS.values(), *(name for name, _ in BALLS.values()), "coach-77", "Wren", "Alder"]:
        assert name not in text, name


def test_no_real_id_is_left_as_a_field(hidden: Decisions) -> None:
    real = {*BOWLERS, *BALLS, *(change.block for change in season().changes)}
    assert not real & set(strings(json.loads(hidden.model_dump_json())))


def test_the_key_leads_back(hidden: Decisions) -> None:
    _, key = alias(*named(), SALT)
    people = key[key["kind"] == "person"].set_index("alias")["real"]
    assert sorted(people[card.bowler] for card in hidden.summary.bowlers) == sorted(BOWLERS)
    assert people.is_unique
    balls = key[key["kind"] == "ball"].set_index("alias")["real"]
    real = Counter((combo.bowler, combo.ball) for combo in season().combos)
    assert Counter((people[combo.bowler], balls[combo.ball]) for combo in hidden.combos) == real


def test_numbers_and_fixed_words_stay(hidden: Decisions) -> None:
    nameless = {"bowler": "", "ball": "", "ball_name": ""}

    def numbers(whole: Decisions) -> Counter[str]:
        return Counter(combo.model_copy(update=nameless).model_dump_json() for combo in whole.combos)

    assert numbers(hidden) == numbers(season())
    assert Counter(m.verdict for m in hidden.maxims) == Counter(m.verdict for m in season().maxims)
    assert {m.bowler for m in hidden.maxims} & {"everyone"} == {m.bowler for m in season().maxims} & {"everyone"}


def test_a_roster_does_not_rebuild_the_aliases() -> None:
    """Whoever has the roster, the program and any salt but the season's own gets other labels."""
    known = [_labels(season(), f"salt {n}") for n in range(12)]
    assert len({tuple(labels.items()) for labels in known}) > 10  # of 5040 orders of seven bowlers
    hashed = sorted(BOWLERS, key=lambda real: hashlib.sha256(real.encode()).hexdigest())
    assert [labels for labels in known if [labels[real] for real in hashed] != [f"Bowler {n + 1}" for n in range(7)]]


def _labels(decisions: Decisions, salt: str) -> dict[str, str]:
    key = alias(*referring(decisions), salt)[1]
    return dict(key.loc[key["kind"] == "person", ["real", "alias"]].sort_values("real").to_numpy())


@pytest.mark.parametrize("salt", ["one", "two", "three"])
def test_rows_stand_in_the_order_of_the_aliases(salt: str) -> None:
    """In the order of the real ids they would tell who is who."""
    hidden, _ = alias(*referring(season()), salt)
    for records in (hidden.summary.bowlers, hidden.combos, hidden.arsenal, hidden.plans, hidden.focus):
        numbers = [int(record.bowler.rpartition(" ")[2]) for record in records]
        assert len(set(numbers)) > 1 and numbers == sorted(numbers)
    balls = [(record.bowler, int(record.ball.rpartition(" ")[2])) for record in hidden.arsenal]
    assert balls == sorted(balls)
    skills = [record.skill for record in hidden.skills]
    assert list(dict.fromkeys(skills)) == list(dict.fromkeys(record.skill for record in season().skills))


def test_everyone_is_no_bowler_s_crash() -> None:
    text = season().model_dump_json().replace('"b1"', '"everyone"')
    hidden, _ = alias(*referring(Decisions.model_validate_json(text)), SALT)
    assert "everyone" not in [card.bowler for card in hidden.summary.bowlers]


def test_a_ball_called_by_a_word_of_ours_garbles_no_other_sentence() -> None:
    whole = season()
    answered, names = referring(whole)
    names = replace(names, balls=names.balls | {"amber": "model"})
    said, clean = "Mean squared error of the model.", f"Clean {ball_named('amber')}."
    checks = [check.model_copy(update={"sentence": said}) for check in answered.checks]
    verdicts = [ball.model_copy(update={"sentence": clean}) for ball in answered.arsenal if ball.ball == "amber"]
    hidden, key = alias(answered.model_copy(update={"checks": checks, "arsenal": verdicts}), names, SALT)
    label = key.loc[(key["kind"] == "ball") & (key["real"] == "amber"), "alias"].item()
    assert {check.sentence for check in hidden.checks} == {said}
    assert verdicts and {verdict.sentence for verdict in hidden.arsenal} == {f"Clean {label}."}


def test_it_is_the_same_at_every_run(hidden: Decisions) -> None:
    assert alias(*named(), SALT)[0] == hidden


def test_labels_never_meet_a_real_id() -> None:
    whole = season()
    text = whole.model_dump_json()
    for place, bowler in enumerate(BOWLERS):
        text = re.sub(rf'"{bowler}"', f'"Bowler {place + 1}"', text)
    hidden, key = alias(*referring(Decisions.model_validate_json(text)), SALT)
    assert not set(key["real"]) & set(key["alias"])
    assert len({card.bowler for card in hidden.summary.bowlers}) == len(BOWLERS)


def test_an_id_of_digits_is_left_nowhere() -> None:
    text = re.sub(r'"(b\d)"', lambda match: f'"48{match.group(1)[1:]}"', season().model_dump_json())
    whole = Decisions.model_validate_json(text)
    assert whole.sensitivity[0].bowler == "481"
    texts = strings(json.loads(alias(*referring(whole), SALT)[0].model_dump_json()))
    assert not [text for text in texts if re.search(r"\b48\d\b", text)]


def test_names_that_are_words_of_our_sentences_garble_none() -> None:
    text = season().model_dump_json().replace('"b1"', '"in"').replace("Wren Alder", "Wren No")
    whole = Decisions.model_validate_json(text)
    sentence = "No two balls do one job in games 1 to 2."
    said = [item.model_copy(update={"sentence": sentence}) for item in whole.redundant]
    answered, names = referring(whole.model_copy(update={"redundant": said}))
    hidden, _ = alias(answered.model_copy(update={"title": "in the hall of No"}), names, SALT)
    assert {item.sentence for item in hidden.redundant} == {sentence}
    assert hidden.title.count("Bowler") == 2 and hidden.redundant[0].bowler != "in"


def test_namesakes_stay_two_bowlers() -> None:
    whole, names = referring(season())
    names = replace(names, bowlers=dict.fromkeys(names.bowlers, "Wren Alder"))
    noted = whole.summary.model_copy(update={"notes": [f"{bowler_named('b1')} logged no entry board."]})
    hidden, key = alias(whole.model_copy(update={"summary": noted}), names, SALT)
    label = key.loc[(key["kind"] == "person") & (key["real"] == "b1"), "alias"].item()
    assert len({card.name for card in hidden.summary.bowlers}) == len(BOWLERS)
    assert [card.name for card in hidden.summary.bowlers] == [card.bowler for card in hidden.summary.bowlers]
    assert hidden.summary.notes == [f"{label} logged no entry board."]


def test_ids_of_digits_do_not_eat_numbers() -> None:
    text = re.sub(r'"b1"', '"7"', season().model_dump_json())
    whole = Decisions.model_validate_json(text)
    answered, names = referring(whole)
    hidden, _ = alias(answered.model_copy(update={"title": "worth +7 pins per game"}), names, SALT)
    assert hidden.title == "worth +7 pins per game"
    assert "7" not in [card.bowler for card in hidden.summary.bowlers]


def test_a_name_that_begins_a_sentence_gets_a_capital_and_stays_as_written_elsewhere() -> None:
    odd = "odd \ue001 id"
    names = Names(balls={"a": "heron", odd: "Crane"})
    pair = season().redundant[0]
    said = f"{ball_named('a')} and {ball_named(odd)} do one job, {ball_named('unlisted')} does not."
    worded = with_names(pair.model_copy(update={"sentence": said, "ball_a": ball_named("a")}), names)
    assert worded.sentence == "Heron and Crane do one job, unlisted does not."
    assert worded.ball_a == "heron" and worded.ball_b == pair.ball_b
