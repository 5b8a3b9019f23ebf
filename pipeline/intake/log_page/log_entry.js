"use strict";
// The screen on which deliveries are entered.

const byId = (id) => document.getElementById(id);
const columns = JSON.parse(document.body.dataset.columns);
const shotColumn = (name) => columns.shots.find((column) => column.name === name);
const EXTRA_NAMES = {
  entry_board: "Entry board",
  laydown_board: "Laydown board",
  breakpoint_board: "Breakpoint board",
  breakpoint_ft: "Breakpoint, feet",
  entry_angle_deg: "Entry angle, degrees",
  speed_mph: "Speed, mph",
  rev_rpm: "Revs, rpm",
};

function element(tag, text, settings = {}) {
  return Object.assign(document.createElement(tag), { textContent: text, ...settings });
}

function say(text) {
  byId("said").textContent = text;
  byId("wrong").textContent = keeps ? "" : "Not kept: this browser stores nothing, or is full. Save the files before you close the page.";
}

function complain(text, field) {
  byId("said").textContent = "";
  byId("wrong").textContent = text;
  field?.closest("details")?.setAttribute("open", "");
  field?.setAttribute("aria-invalid", "true");
  field?.focus();
}

const press = (button, on) => button.setAttribute("aria-pressed", String(on));
const shownName = (id) => bowlerOf(id)?.name || id;
const ballName = (id) => state.refs.balls.find((ball) => ball.ball === id)?.name || id;

function choice(text, on, act) {
  const button = element("button", "", { type: "button" });
  button.append(element("span", text));
  press(button, on);
  button.addEventListener("click", act);
  return button;
}

/** Put these buttons in place of a group's; the keyboard's focus stays at its place. */
function refill(id, buttons) {
  const group = byId(id);
  const at = [...group.children].indexOf(document.activeElement);
  group.replaceChildren(...buttons);
  if (at >= 0) (buttons[Math.min(at, buttons.length - 1)] ?? byId("record")).focus();
}

function drawEntry() {
  const stand = currentStand();
  const ready = Boolean(stand?.bowler);
  for (const id of ["where", "entry", "game", "lane-box"]) byId(id).hidden = !ready;
  showBar();
  drawPlayers(stand);
  if (!ready) {
    byId("whose").textContent = stand ? "Nobody is bowling: open Session" : "No session yet: open Session";
    byId("due").textContent = "";
    return;
  }
  drawHead(stand);
  drawDeck(stand);
  drawBag(stand);
  drawStrip(stand);
  drawExtras();
  drawGame(stand.bowler);
}

/** Log a turn, lanes or a game. The focus goes to the heading, so that Enter records and does not press again. */
function change(event, told) {
  forgetTyped();
  addEvent(event);
  drawEntry();
  byId("turn").focus({ preventScroll: true });
  say(told);
}

/** Undo and Record belong to the log, and to somebody's turn. */
function showBar() {
  byId("bar").hidden = byId("log").hidden || !currentStand()?.bowler;
}

function drawHead(stand) {
  byId("whose").textContent = shownName(stand.bowler);
  byId("due").textContent = `frame ${stand.frame}, delivery ${stand.delivery}`;
  byId("swap").hidden = stand.lanes.length === 1;
  byId("where").textContent =
    state.draft.at === null ? `Lane ${stand.lane}, game ${stand.game}${scoreSoFar(stand)}` : "Mending what was logged before";
}

function scoreSoFar({ players, bowler, game, frame, delivery }) {
  const scores = scoresOf(players[bowler]);
  if (!scores.length) return "";
  const before = frame === 1 && delivery === 1; // the finished game is still in sight
  return before ? `; ${scores.at(-1)} in game ${game - 1}` : `, ${scores.at(-1)} after frame ${scores.length}`;
}

function drawPlayers(stand) {
  const here = stand ? currentSession().setup.order.filter((id) => !currentSession().setup.out.includes(id)) : [];
  byId("players").hidden = here.length < 2;
  const act = (id) => () => {
    if (id !== stand.bowler) change({ type: "turn", bowler: id }, `${shownName(id)} bowls now.`);
  };
  refill("players", here.map((id) => choice(shownName(id), id === stand.bowler, act(id))));
}

function drawDeck(stand) {
  const { standing, foul } = state.draft;
  for (const button of document.querySelectorAll("[data-pin]")) {
    const pin = Number(button.dataset.pin);
    const faced = Boolean(stand.facing & bitOf(pin));
    const up = faced && Boolean((standing ?? 0) & bitOf(pin));
    button.disabled = !faced || foul;
    press(button, up);
    button.setAttribute("aria-label", faced ? `pin ${pin} stands` : `pin ${pin}, down before`);
  }
  byId("all-down").firstChild.textContent = stand.fresh ? "Strike" : "Spare";
  press(byId("all-down"), !foul && standing === 0);
  press(byId("none-fell"), !foul && standing === stand.facing);
  press(byId("foul"), foul);
  const answered = foul || standing !== null;
  byId("record").setAttribute("aria-disabled", String(!answered));
  const mending = state.draft.at !== null;
  const verb = mending ? "Put right" : "Record";
  byId("record").textContent = answered ? `${verb}: ${readable(state.draft, stand)}` : "Mark what stands";
  byId("undo").textContent = mending ? "Leave it" : "Undo";
  byId("undo").disabled = currentSession().events.length === 0;
}

function readable(mark, stand) {
  if (mark.foul) return "foul";
  if (mark.standing === 0) return stand.fresh ? "strike" : "spare";
  return pinsIn(mark.standing).length === 10 ? "all ten stand" : leaveText(mark, stand.fresh);
}

function drawBag(stand) {
  const chosen = state.draft.ball ?? usualBall(stand);
  const act = (id) => () => {
    state.draft.ball = id;
    changed();
  };
  refill("bag", bagOf(stand.bowler).map(({ ball }) => choice(ballName(ball), ball === chosen, act(ball))));
}

/** Boards count from the bowler's own side: from the right edge for the right hand, from the left for the left. */
function drawStrip(stand) {
  const left = isLeft(stand.bowler);
  const { arrow } = state.draft;
  const strip = byId("arrow");
  strip.dir = left ? "ltr" : "rtl";
  strip.value = arrow ?? usualBoards(stand)[0] ?? 12;
  strip.classList.toggle("unset", arrow === null);
  strip.setAttribute("aria-valuetext", arrow === null ? "not marked" : `board ${arrow}`);
  showBoard(arrow);
  const place = (board) => ((left ? board - 1 : 39 - board) / 38) * 100;
  const mark = (board) => {
    const span = element("span", board);
    span.style.left = `calc(${place(board)}% + ${(0.5 - place(board) / 100).toFixed(3)}rem)`;
    return span;
  };
  byId("marks").replaceChildren(...[5, 10, 15, 20, 25, 30, 35].map(mark));
  const act = (board) => () => {
    state.draft.arrow = board;
    arrowGiven();
  };
  const again = usualBoards(stand).map((board) => {
    const button = element("button", board, { type: "button", ariaLabel: `board ${board} again` });
    button.addEventListener("click", act(board));
    return button;
  });
  refill("usual", again);
}

function showBoard(board) {
  byId("board").textContent = board === null ? "" : `board ${board}`;
}

/** Another delivery comes up: what was wrongly typed for this one goes. */
function forgetTyped() {
  for (const field of byId("extras").querySelectorAll("input")) field.removeAttribute("aria-invalid");
}

function drawExtras() {
  for (const field of byId("extras").querySelectorAll("input")) {
    const kept = field.name === "note" ? state.draft.note : (state.draft.extras[field.name] ?? "");
    if (field !== document.activeElement && field.getAttribute("aria-invalid") !== "true") field.value = kept;
  }
}

function scoresOf(player) {
  return player ? runningScores(gameFrames(player.all).flat().map((mark) => mark.count)) : [];
}

/** The draft was changed: store and draw it. */
function changed() {
  keep();
  if (keeps) byId("wrong").textContent = "";
  drawEntry();
}

/** An arrow was touched: the delivery is complete, unless pins are still to be marked or more is being typed. */
function arrowGiven() {
  const answered = state.draft.foul || state.draft.standing !== null;
  if (answered && !byId("more").open) record();
  else changed();
}

const FULL_BLOCK = "A block holds at most 60 games: start a new session.";

function record() {
  const stand = currentStand();
  if (isBeyond(stand.game)) return complain(FULL_BLOCK);
  if (!state.draft.foul && state.draft.standing === null) {
    return complain("Mark the pins that stand, or all down, first.");
  }
  const wrong = byId("extras").querySelector("[aria-invalid=true]");
  if (wrong) {
    return complain(`${EXTRA_NAMES[wrong.name]}: ${boundsOf(wrong.name)}, or leave it empty.`, wrong);
  }
  if (!(state.draft.ball ?? usualBall(stand))) return complain("Choose a ball first; add one under Bowlers.");
  const mending = state.draft.at !== null;
  const event = recordDraft();
  if (!event) return complain("Deliveries after it would no longer follow. Leave it, and undo back to it.");
  byId("more").open = false;
  const board = event.row.arrow_board === "" ? "" : `, board ${event.row.arrow_board}`;
  drawEntry();
  const verb = mending ? "Put right" : "Recorded";
  return say(`${verb}: ${shownName(event.bowler)}, ${readable(event, stand)}, ${ballName(event.row.ball)}${board}.`);
}

function undo() {
  if (state.draft.at !== null) return leaveAsItWas();
  forgetTyped();
  const event = undoLast();
  if (!event) return undefined;
  drawEntry();
  const reopened = `${shownName(event.bowler)}, frame ${event.row?.frame}, delivery ${event.row?.delivery}: change it and record.`;
  return say(event.type === "shot" ? reopened : "The last change was undone.");
}

const boundsOf = (name) => `a number from ${shotColumn(name).low} to ${shotColumn(name).high}`;

function readExtra(field) {
  if (field.name === "note") state.draft.note = field.value;
  else {
    const value = readNumber(field.value, shotColumn(field.name));
    field.setAttribute("aria-invalid", String(value === null));
    if (value === null) complain(`${EXTRA_NAMES[field.name]}: ${boundsOf(field.name)}, or leave it empty.`);
    else {
      byId("wrong").textContent = "";
      state.draft.extras[field.name] = value;
    }
  }
  keep();
}

function togglePin(pin) {
  const { facing } = currentStand();
  if (state.draft.foul || !(facing & bitOf(pin))) return;
  const standing = (state.draft.standing ?? 0) ^ bitOf(pin);
  state.draft.standing = standing === 0 ? null : standing; // no pin marked is no answer; all down is a button
  changed();
}

function setStanding(standing) {
  state.draft.foul = false;
  state.draft.standing = state.draft.standing === standing ? null : standing;
  changed();
}

function toggleFoul() {
  state.draft.foul = !state.draft.foul;
  state.draft.standing = null;
  changed();
}

function nextBall() {
  const stand = currentStand();
  const ids = bagOf(stand.bowler).map((ball) => ball.ball);
  state.draft.ball = ids[(ids.indexOf(state.draft.ball ?? usualBall(stand)) + 1) % ids.length];
  changed();
}
