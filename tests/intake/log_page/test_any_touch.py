"""Whatever is touched or typed, in whatever order: the page makes no error, and what it saves loads whole."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tests.intake.log_page.phone import Phone

pytestmark = pytest.mark.browser

Ready = Callable[..., Phone]

_TOUCH_ANYTHING = """([start, touches]) => {
    let number = start;
    const next = (below) => {
        number = (number * 48271) % 2147483647; // a plain congruential generator: the same touches each time
        return number % below;
    };
    const words = ["11 12", "7", "house", "20", "17,5", "41.5", "", "", "60", "X; \\"y\\"", "left"];
    const any = (list) => list[next(list.length)];
    for (let n = 0; n < touches; n += 1) {
        const pins = [...document.querySelectorAll("#deck button, #usual button, #record")];
        const all = [...document.querySelectorAll("button, summary, select, input:not([type=file])")];
        const part = any((next(3) ? pins : all).filter((each) => each.checkVisibility() && !each.disabled));
        if (!part || part.closest("#erase-box")) continue;
        if (part.closest("#who, #list, #extras") && next(10)) continue; // or nobody is left to bowl
        if (part.matches("[type=range]")) {
            part.value = 1 + next(39);
            part.dispatchEvent(new Event("input", { bubbles: true }));
        } else if (part.matches("select")) {
            part.selectedIndex = next(part.options.length);
            part.dispatchEvent(new Event("change", { bubbles: true }));
        } else if (part.matches("input:not([type=checkbox], [type=radio])")) {
            part.value = part.type === "date" ? any(["2026-10-07", "2026-10-08", ""]) : any(words);
            part.dispatchEvent(new Event("input", { bubbles: true }));
        } else part.click();
        if (document.getElementById("log").hidden && next(8) === 0) show("log");
        if (next(50) === 0) dispatchEvent(new Event("storage")); // reads all anew, as if the page had been closed
    }
    return state.sessions.flatMap((session) => session.events).filter((event) => event.type === "shot").length;
}"""


@pytest.mark.parametrize("start", [7, 1918, 40014])
def test_any_touches_give_files_that_load(ready: Ready, start: int) -> None:
    phone = ready(("wren", "right"), ("tarn", "left"))
    shots = phone.page.evaluate(_TOUCH_ANYTHING, [start, 2500])
    assert shots > 40
    report = phone.load()
    assert report.rows_quarantined == 0 and report.refused == (), report.lines()
    assert len(phone.rows()) == shots
