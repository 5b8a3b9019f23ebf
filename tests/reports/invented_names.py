"""Names of an invented season, hostile ones among them, and its estimates. Nobody in it exists."""

from __future__ import annotations

from pipeline.decisions import records as r

SCRIPT = "<script>document.title='broken'</script>"
QUOTES = 'Ida "Quote" O\'Tick & Sons'
RIGHT_TO_LEFT = "מעין \u202eנחל\u202c"
EMOJI = "🎳 Sparrow 🧤"
LONG = "Verylongname" * 25
FORMULA = '=HYPERLINK("x")'
BALL_MARKUP = "<img src=x onerror=alert(1)> Anvil"
HOSTILE = (SCRIPT, QUOTES, RIGHT_TO_LEFT, EMOJI, LONG, FORMULA, BALL_MARKUP)

BOWLERS = {
    "b1": "Wren Alder",
    "b2": SCRIPT,
    "b3": QUOTES,
    "b4": RIGHT_TO_LEFT,
    "b5": EMOJI,
    "b6": LONG,
    "b7": FORMULA,
}
BALLS = {
    "amber": ("Amber Drift", "symmetric pearl"),
    "anvil": (BALL_MARKUP, "asymmetric solid"),
    "cedar": ("Cedar Chest", "symmetric hybrid"),
    "dusk": ("Dusk", "urethane"),
    "flint": ("Flint", "symmetric solid"),
    "glass": ("Glass", "polyester"),
}
LINES = ("first arrow", "second arrow", "third arrow", "fourth arrow")
PATTERNS = ("short", "medium", "long")
WHOLES: tuple[tuple[str, str, bool], ...] = (("strikes", "%", True), ("spares", "%", True))
SKILLS: tuple[tuple[str, str, bool], ...] = (
    ("pocket", "%", True),
    ("carry", "%", True),
    ("single-pin spares", "%", True),
    ("multi-pin spares", "%", True),
    ("accuracy at the arrows", "boards", False),
    ("accuracy at the pocket", "boards", False),
    ("versatility", "pins", True),
)


def estimate(mean: float, sd: float) -> r.Estimate:
    """A normal estimate with its intervals."""
    return r.Estimate(
        mean=mean,
        lo50=mean - 0.674 * sd,
        hi50=mean + 0.674 * sd,
        lo80=mean - 1.282 * sd,
        hi80=mean + 1.282 * sd,
        lo95=mean - 1.96 * sd,
        hi95=mean + 1.96 * sd,
    )
