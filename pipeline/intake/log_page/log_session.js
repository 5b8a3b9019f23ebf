"use strict";
// The session: date, lanes, pattern, who bowls; and going on with an earlier one.

function drawSession() {
  const setup = currentSession()?.setup;
  byId("present").textContent = setup ? `Now: ${setup.block}, ${setup.date}. Start logging below begins another session.` : "";
  drawEarlier();
  const today = new Date();
  today.setMinutes(today.getMinutes() - today.getTimezoneOffset());
  if (!valueOf("session-form", "date")) field("session-form", "date").value = today.toISOString().slice(0, 10);
  suggestBlock();
  byId("patterns").replaceChildren(...state.refs.patterns.map((row) => element("option", "", { value: row.pattern })));
  drawWho(setup);
}

/** A name after the date, unless one was typed. */
function suggestBlock() {
  const [typed, date] = [valueOf("session-form", "block"), valueOf("session-form", "date")];
  const taken = state.refs.blocks.map((row) => row.block);
  if (date && /^(s-\d{4}-\d\d-\d\d(-\d+)?)?$/.test(typed)) field("session-form", "block").value = freeId(`s-${date}`, taken);
}

/** A touch goes on with an earlier session: after a false start, or with a second pair of lanes. */
function drawEarlier() {
  const earlier = state.sessions.slice(0, -1).reverse();
  const lines = earlier.map((session) => {
    const { block, date, lanes } = session.setup;
    const text = `Go on with ${block}: ${date}, ${lanes.length === 1 ? "lane" : "lanes"} ${lanes.join(" and ")}`;
    const button = element("button", text, { type: "button" });
    button.addEventListener("click", () => {
      resumeSession(session);
      show("log");
      say(`Now ${block}.`);
    });
    return button;
  });
  byId("earlier").replaceChildren(...lines);
  byId("earlier-box").hidden = !lines.length;
}

function drawWho(setup) {
  const boxes = state.refs.bowlers.map(({ bowler }) => {
    const label = element("label", "", { className: "tick" });
    const box = element("input", "", { type: "checkbox", name: "who", value: bowler });
    box.checked = setup ? setup.order.includes(bowler) && !setup.out.includes(bowler) : true;
    box.addEventListener("change", () => setup && sitOut(setup, bowler, !box.checked));
    label.append(box, shownName(bowler));
    return label;
  });
  byId("who").replaceChildren(...(boxes.length ? boxes : [element("p", "Add bowlers under Bowlers first.")]));
}

/** Take a bowler out of the running session, or in. */
function sitOut(setup, bowler, out) {
  setup.out = setup.out.filter((id) => id !== bowler);
  state.draft = emptyDraft();
  if (out) setup.out.push(bowler);
  else join(setup, bowler);
  keep();
  say(`${shownName(bowler)} ${out ? "sits out" : "bowls"} in ${setup.block}.`);
}

/** Whoever comes late or back begins with the game that the others are in. */
function join(setup, bowler) {
  const { players } = currentStand();
  const others = setup.order.filter((id) => id !== bowler && !setup.out.includes(id)).map((id) => players[id]?.game);
  if (!setup.order.includes(bowler)) setup.order.push(bowler);
  const games = others.filter(Boolean);
  if (games.length) addEvent({ type: "join", bowler, game: Math.min(...games) });
}

/** The pattern typed: its row, null if none is posted, or a complaint. */
function readPattern() {
  if (!byId("session-form").elements.posted[1].checked) return null;
  const name = valueOf("session-form", "pattern");
  const known = state.refs.patterns.find((row) => row.pattern === name || (row.name === name && name));
  if (known) return known;
  const row = { pattern: idFrom(name), name };
  if (!row.pattern) return ["pattern", "Type the pattern's name, or choose Not posted."];
  for (const key of ["length_ft", "volume_ml", "ratio"]) {
    const column = columns.patterns.find((each) => each.name === key);
    const value = readNumber(valueOf("session-form", key).replace(/:1$/, ""), column);
    if (value === null) return [key, `Type a number from ${column.low} to ${column.high}, or leave it empty.`];
    row[key] = value;
  }
  row.pattern = freeId(row.pattern, state.refs.patterns.map((each) => each.pattern));
  return row;
}

/** What is wrong with the session typed, as [field, sentence], or null. */
function sessionFault(setup) {
  const column = shotColumn("game");
  if (!setup.date || setup.date < "1950" || setup.date > "2101") return ["date", "Choose the date."];
  if (!setup.block) return ["block", "Type a name for this session."];
  if (state.refs.blocks.some((row) => row.block === setup.block)) return ["block", "That block exists: choose another name."];
  if (!setup.lanes) return ["lanes", "Type one lane or two, each from 1 to 500, such as 11 12."];
  if (!(setup.game >= column.low && setup.game <= column.high)) return ["game", "First game: a whole number from 1 to 60."];
  if (!setup.order.length) return [null, "Tick who bowls, or add bowlers under Bowlers."];
  const bare = setup.order.find((id) => !bagOf(id).length);
  return bare ? [null, `${shownName(bare)} has no ball yet: add one under Bowlers.`] : null;
}

function beginSession(event) {
  event.preventDefault();
  const setup = {
    date: valueOf("session-form", "date"),
    block: idFrom(valueOf("session-form", "block")),
    lanes: readLanes(valueOf("session-form", "lanes")),
    game: readNumber(valueOf("session-form", "game"), shotColumn("game")),
    order: [...byId("who").querySelectorAll("input:checked")].map((box) => box.value),
    out: [],
  };
  const pattern = readPattern();
  const fault = sessionFault(setup) ?? (Array.isArray(pattern) ? pattern : null);
  if (fault) return complain(fault[1], fault[0] ? field("session-form", fault[0]) : undefined);
  if (pattern && !state.refs.patterns.includes(pattern)) addReference("patterns", pattern);
  const { block, date } = setup;
  const told = { event: valueOf("session-form", "event"), centre: valueOf("session-form", "centre") };
  addReference("blocks", { block, date, pattern: pattern?.pattern ?? "", ...told });
  startSession(setup);
  event.target.reset();
  byId("posted").hidden = true;
  show("log");
  return say("Everything is kept on this phone as you go.");
}
