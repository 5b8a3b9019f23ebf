"use strict";
// Touches and keys of the entry screen.

const KEYS = {
  x: () => setStanding(0),
  "/": () => setStanding(0),
  "-": () => setStanding(currentStand().facing),
  f: toggleFoul,
  b: nextBall,
  a: () => byId("arrow").focus(),
  Enter: record,
  Backspace: undo,
};

function onKey(event) {
  const ready = !byId("log").hidden && currentStand()?.bowler;
  if (!ready || event.ctrlKey || event.metaKey || event.altKey) return;
  const typing = event.target.matches("input:not([type=range],[type=checkbox]), select, textarea");
  const pressing = event.key === "Enter" && event.target.matches("button, summary, [type=checkbox]");
  const extra = event.key === "Enter" && event.target.closest("#extras");
  if ((typing && !extra) || pressing) return;
  const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
  if (/^[0-9]$/.test(key)) togglePin(Number(key) || 10);
  else if (KEYS[key]) KEYS[key]();
  else return;
  event.preventDefault();
}

/** The board under a finger; whole boards, as half ones are too narrow for it. */
function boardAt(event) {
  const strip = byId("arrow");
  const box = strip.getBoundingClientRect();
  const half = parseFloat(getComputedStyle(document.documentElement).fontSize) / 2; // of the thumb of the strip
  const share = Math.min(1, Math.max(0, (event.clientX - box.left - half) / (box.width - 2 * half)));
  return Math.round(1 + 38 * (strip.dir === "ltr" ? share : 1 - share));
}

function listenToStrip() {
  const strip = byId("arrow");
  let sliding = false;
  const show = (event) => {
    state.draft.arrow = boardAt(event);
    strip.value = state.draft.arrow;
    strip.classList.remove("unset");
    showBoard(state.draft.arrow);
  };
  strip.addEventListener("pointerdown", (event) => {
    event.preventDefault();
    strip.focus({ preventScroll: true });
    strip.setPointerCapture(event.pointerId);
    sliding = true;
    show(event);
  });
  strip.addEventListener("pointermove", (event) => sliding && show(event));
  strip.addEventListener("pointerup", (event) => {
    if (!sliding) return;
    sliding = false;
    show(event);
    arrowGiven();
  });
  strip.addEventListener("pointercancel", () => {
    sliding = false;
    state.draft.arrow = null;
    changed();
  });
  strip.addEventListener("touchstart", (event) => event.preventDefault(), { passive: false });
  strip.addEventListener("input", () => {
    if (sliding) return;
    state.draft.arrow = Number(strip.value);
    changed();
  });
}

function makeExtras() {
  const fields = EXTRAS.map((name) => {
    const label = element("label", `${EXTRA_NAMES[name]} `);
    label.append(element("input", "", { name, inputMode: "decimal", autocomplete: "off" }));
    return label;
  });
  const note = element("label", "Note ");
  note.append(element("input", "", { name: "note", autocomplete: "off", maxLength: 120 }));
  byId("extras").replaceChildren(...fields, note);
  byId("extras").addEventListener("input", (event) => readExtra(event.target));
}

function listenToEntry() {
  makeExtras();
  listenToStrip();
  document.addEventListener("keydown", onKey);
  byId("deck").addEventListener("click", (event) => {
    const pin = event.target.closest("[data-pin]");
    if (pin) togglePin(Number(pin.dataset.pin));
  });
  byId("all-down").addEventListener("click", () => setStanding(0));
  byId("none-fell").addEventListener("click", () => setStanding(currentStand().facing));
  byId("foul").addEventListener("click", toggleFoul);
  byId("record").addEventListener("click", record);
  byId("undo").addEventListener("click", undo);
  byId("swap").addEventListener("click", () => {
    change({ type: "swap" }, "Now on the other lane of the pair.");
  });
  byId("next-game").addEventListener("click", startNextGame);
  byId("lanes-form").addEventListener("submit", moveLanes);
}

function startNextGame() {
  state.draft = emptyDraft();
  const games = Object.values(currentStand().players).map((p) => (p.frame > 1 || p.marks.length ? p.game + 1 : p.game));
  const game = Math.max(...games, currentStand().game);
  if (isBeyond(game)) return complain(FULL_BLOCK);
  return change({ type: "game", game }, `Game ${game} begins. Undo takes it back.`);
}

/** One or two lanes as typed, or null. */
function readLanes(text) {
  const lanes = text.split(/[^0-9]+/).filter(Boolean).map(Number);
  const legal = lanes.every((lane) => lane >= 1 && lane <= shotColumn("lane").high);
  return legal && (lanes.length === 1 || lanes.length === 2) ? lanes : null;
}

function moveLanes(event) {
  event.preventDefault();
  const field = event.target.elements.lanes;
  const lanes = readLanes(field.value);
  if (!lanes) return complain("Lanes: one lane or two, each from 1 to 500, such as 11 12.", field);
  field.value = "";
  return change({ type: "lanes", lanes }, `Moved to ${lanes.length === 1 ? "lane" : "lanes"} ${lanes.join(" and ")}.`);
}
