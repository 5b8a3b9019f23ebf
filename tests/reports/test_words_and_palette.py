"""How values are written, and whether the colours can be told apart and read."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from reports.html import pin_deck, strips
from reports.style import palette, wording
from tests.reports.invented_names import estimate

AA_TEXT = 4.5
"""Least contrast of body text. Source: WCAG 2.2, success criterion 1.4.3."""
AA_GRAPHIC = 3.0
"""Least contrast of lines and marks that carry meaning. Source: WCAG 2.2, success criterion 1.4.11."""

# Simulation of colour-vision deficiency at severity 1 on linear RGB. Source: Machado, Oliveira and Fernandes,
# "A Physiologically-based Model for Simulation of Color Vision Deficiency", 2009, table of matrices (from memory).
PROTAN = ((0.152286, 1.052583, -0.204868), (0.114503, 0.786281, 0.099216), (-0.003882, -0.048116, 1.051998))
DEUTAN = ((0.367322, 0.860646, -0.227968), (0.280085, 0.672501, 0.047413), (-0.011820, 0.042940, 0.968881))


def _linear(colour: str) -> np.ndarray:
    part = np.array([int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)])
    return np.where(part <= 0.04045, part / 12.92, ((part + 0.055) / 1.055) ** 2.4)


def _contrast(one: str, other: str) -> float:
    """Contrast ratio by WCAG's relative luminance."""
    weights = np.array([0.2126, 0.7152, 0.0722])
    low, high = sorted(float(_linear(colour) @ weights) for colour in (one, other))
    return (high + 0.05) / (low + 0.05)


def _lab(linear: np.ndarray) -> np.ndarray:
    """CIE L*a*b* (D65) of a linear sRGB colour."""
    to_xyz = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
    xyz = to_xyz @ np.clip(linear, 0, 1) / np.array([0.9505, 1.0, 1.089])
    f = np.where(xyz > 0.008856, np.cbrt(xyz), 7.787 * xyz + 16 / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def test_contrast_of_black_on_white_is_21() -> None:
    assert _contrast("#000000", "#ffffff") == pytest.approx(21.0)  # WCAG 2.2, definition of contrast ratio


@pytest.mark.parametrize("scheme", [palette.LIGHT, palette.DARK], ids=["light", "dark"])
def test_text_and_lines_can_be_read(scheme: dict[str, str]) -> None:
    for ground in ("paper", "card"):
        for text in ("ink", "quiet", "link"):
            assert _contrast(scheme[text], scheme[ground]) >= AA_TEXT, (text, ground)
        for line in (*palette.SERIES, "gain", "loss", "zero"):
            assert _contrast(scheme[line], scheme[ground]) >= AA_GRAPHIC, (line, ground)


@pytest.mark.parametrize(
    ("scheme", "tints"),
    [(palette.LIGHT, palette.WORTH_LIGHT), (palette.DARK, palette.WORTH_DARK)],
    ids=["light", "dark"],
)
def test_text_on_every_tint_can_be_read(scheme: dict[str, str], tints: dict[str, str]) -> None:
    for name, tint in tints.items():
        assert _contrast(scheme["ink"], tint) >= AA_TEXT, name


@pytest.mark.parametrize("matrix", [np.eye(3), np.array(PROTAN), np.array(DEUTAN)], ids=["full", "protan", "deutan"])
@pytest.mark.parametrize("scheme", [palette.LIGHT, palette.DARK], ids=["light", "dark"])
def test_gain_and_loss_differ_for_every_eye(scheme: dict[str, str], matrix: np.ndarray) -> None:
    """20 in CIE76 is many times a just noticeable difference of about 2.3 (Mahy, Van Eycken and Oosterlinck 1994)."""
    pairs = [("gain", "loss"), *itertools.combinations(palette.SERIES, 2)]
    for one, other in pairs:
        apart = np.linalg.norm(_lab(matrix @ _linear(scheme[one])) - _lab(matrix @ _linear(scheme[other])))
        assert apart > 20, (one, other, apart)


def test_worth_tints_are_symmetric_and_grow() -> None:
    for pins in (0.0, 0.9, 1.0, 3.9, 5.0, 9.0, 20.0):
        gain, loss = palette.worth_tone(pins), palette.worth_tone(-pins)
        assert gain.replace("gain", "loss") == loss
    steps = [palette.worth_tone(pins) for pins in (0.5, 1.5, 5.0, 9.0, 15.0)]
    assert steps == ["even", "gain1", "gain2", "gain3", "gain4"]


def test_no_two_colours_of_charts_have_one_value() -> None:
    """Style rules find a colour by its value, so two roles must not share one."""
    assert len(set(palette.LIGHT.values())) == len(palette.LIGHT)


def test_numbers_are_written_with_true_minus_and_never_minus_zero() -> None:
    assert wording.signed(-3.04) == "\u22123.0"
    assert wording.signed(6.05, 1) in ("+6.0", "+6.1")
    assert wording.signed(-0.04) == "0.0"
    assert wording.plain(-0.04) == "0.0"
    assert wording.interval(estimate(0.0, 1.0)) == "\u22121.3 to +1.3"


def test_probability_never_claims_certainty() -> None:
    assert wording.in_hundred(1.0) == "over 99 in 100"
    assert wording.in_hundred(0.0) == "under 1 in 100"
    assert wording.in_hundred(0.005) == "under 1 in 100" and wording.in_hundred(0.995) == "over 99 in 100"
    assert wording.in_hundred(0.874) == "87 in 100"


def test_tidy_leaves_leaves_alone() -> None:
    assert wording.tidy("the 3-10, -2 to +16, 80 % sure") == "the 3-10, \u22122 to +16, 80\u202f% sure"


def test_pins_stand_where_they_stand_on_the_deck() -> None:
    """Rows 7-8-9-10, 4-5-6, 2-3, 1 from back to front; pin 5 behind pin 1 on the centre line (common practice)."""
    places = pin_deck.pin_places()
    assert len(set(places.values())) == 10
    assert places[5][0] == places[1][0]
    assert places[1][1] > places[2][1] == places[3][1] > places[4][1] > places[7][1]
    spacing = {
        round(float(np.hypot(*(np.subtract(places[a], places[b])))), 1) for a, b in ((1, 2), (2, 3), (7, 8), (6, 10))
    }
    assert len(spacing) == 1


def test_deck_draws_only_what_stands() -> None:
    drawing = pin_deck.draw("3-10")
    assert drawing.count("pin-up") == 2
    assert drawing.count("pin-down") == 8
    assert ">3<" in drawing and ">10<" in drawing


def test_strip_colours_only_what_is_sure() -> None:
    scale = strips.Scale(-10, 10)
    assert 'class="strip better"' in strips.strip(estimate(5.0, 2.0), scale)
    assert 'class="strip flat"' in strips.strip(estimate(2.0, 2.0), scale)
    assert 'class="strip worse"' in strips.strip(estimate(5.0, 2.0), scale, higher_is_better=False)
