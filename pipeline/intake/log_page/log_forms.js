"use strict";
// Bowlers and balls, the session, and saving; and the start of the page.

const EVERYBODY = "everyone"; // an id that the load refuses
const field = (form, name) => byId(form).elements[name];
const valueOf = (form, name) => field(form, name).value.trim();

function show(view) {
  for (const name of ["log", "people", "session", "files"]) byId(name).hidden = name !== view;
  for (const button of document.querySelectorAll("[data-view]")) {
    if (button.dataset.view === view) button.setAttribute("aria-current", "page");
    else button.removeAttribute("aria-current");
  }
  showBar();
  ({ log: drawEntry, people: drawPeople, session: drawSession, files: drawFiles })[view]();
  scrollTo(0, 0);
  byId(view).querySelector("h1").focus({ preventScroll: true });
}

function drawPeople() {
  const { bowlers } = state.refs;
  byId("list").replaceChildren(...bowlers.flatMap(personLines));
  if (!bowlers.length) byId("list").append(element("p", "Nobody yet: add a bowler, then a ball."));
  byId("add-bowler").open ||= !bowlers.length;
  byId("add-ball").hidden = !bowlers.length;
  const whose = field("ball-form", "bowler");
  const chosen = whose.value;
  whose.replaceChildren(...bowlers.map(({ bowler }) => element("option", shownName(bowler), { value: bowler })));
  if (bowlers.some(({ bowler }) => bowler === chosen)) whose.value = chosen;
}

function personLines(bowler) {
  const id = bowler.bowler;
  const list = element("ul", "");
  for (const ball of bagOf(id)) {
    const build = isYes(ball.spare_ball) ? `${ball.cover}, for spares` : `${ball.core} ${ball.cover}`;
    const line = element("li", "");
    line.append(element("span", `${ballName(ball.ball)}: ${build}`));
    if (!isUsed("ball", ball.ball)) line.append(remover("balls", "ball", ball.ball, ballName(ball.ball)));
    list.append(line);
  }
  if (!bagOf(id).length) list.append(element("li", "no ball yet"));
  const name = bowler.name && bowler.name !== id ? `${bowler.name} (${id})` : id;
  const head = element("h2", `${name}, ${isLeft(id) ? "left" : "right"}-handed `);
  if (!isUsed("bowler", id) && !bagOf(id).length) head.append(remover("bowlers", "bowler", id, id));
  return [head, list];
}

function remover(kind, key, id, name) {
  const button = element("button", "Remove", { type: "button", ariaLabel: `Remove ${name}` });
  button.addEventListener("click", () => {
    state.refs[kind] = state.refs[kind].filter((row) => row[key] !== id);
    const setup = currentSession()?.setup;
    if (setup && kind === "bowlers") setup.order = setup.order.filter((other) => other !== id);
    keep();
    drawPeople();
    say(`Removed ${name}.`);
  });
  return button;
}

function addBowler(event) {
  event.preventDefault();
  const id = idFrom(valueOf("bowler-form", "bowler"));
  const alias = field("bowler-form", "alias").checked;
  if (!id) return complain("Type a short id of letters or digits.", field("bowler-form", "bowler"));
  if (id === EVERYBODY) return complain(`${id} stands for all bowlers: choose another id.`, field("bowler-form", "bowler"));
  if (bowlerOf(id)) return complain(`${id} is taken: choose another id.`, field("bowler-form", "bowler"));
  const [hand, style] = [valueOf("bowler-form", "hand"), valueOf("bowler-form", "style")];
  if (!hand) return complain("Choose the hand: boards and pins are read by it.", field("bowler-form", "hand"));
  const name = alias ? "" : valueOf("bowler-form", "name");
  addReference("bowlers", { bowler: id, name, hand, style });
  event.target.reset();
  showName();
  byId("add-bowler").open = false;
  byId("add-ball").open = true;
  drawPeople();
  field("ball-form", "bowler").value = id;
  field("ball-form", "name").focus();
  return say(`Added ${id}. Now add a ball.`);
}

function showName() {
  document.querySelector("[data-name]").hidden = field("bowler-form", "alias").checked;
}

function addBall(event) {
  event.preventDefault();
  const [bowler, name] = [valueOf("ball-form", "bowler"), valueOf("ball-form", "name")];
  if (!idFrom(name)) return complain("Type what you call the ball.", field("ball-form", "name"));
  const forSpares = field("ball-form", "spare_ball").checked;
  const [cover, core] = [valueOf("ball-form", "cover"), valueOf("ball-form", "core")];
  if (!cover) return complain("Choose the cover.", field("ball-form", "cover"));
  if (!core && !forSpares) return complain("Choose the core; only a ball for spares may go without.", field("ball-form", "core"));
  const ball = freeId(`${bowler}-${idFrom(name)}`, state.refs.balls.map((row) => row.ball));
  addReference("balls", { ball, bowler, name, cover, core, spare_ball: forSpares ? "yes" : "no" });
  event.target.reset();
  drawPeople();
  field("ball-form", "bowler").value = bowler;
  return say(`Added ${name} for ${shownName(bowler)}. Once all are in, open Session.`);
}

async function openFiles(event) {
  const said = [];
  for (const file of event.target.files) {
    const found = readReference(await file.text(), columns);
    if (found) {
      const { kind, rows } = found;
      state.refs[kind] = mergeRows(state.refs[kind], rows, kind.slice(0, -1));
      said.push(`${file.name}: ${rows.length} ${rows.length === 1 ? kind.slice(0, -1) : kind}.`);
    } else said.push(`${file.name}: not read; its first line must name the columns of one of the four files.`);
  }
  keep();
  event.target.value = "";
  drawPeople();
  say(said.join(" "));
}

function drawSession() {
  const setup = currentSession()?.setup;
  byId("present").textContent = setup ? `Now: ${setup.block}, ${setup.date}. Start logging below begins another session.` : "";
  const today = new Date();
  today.setMinutes(today.getMinutes() - today.getTimezoneOffset());
  const date = today.toISOString().slice(0, 10);
  if (!valueOf("session-form", "date")) field("session-form", "date").value = date;
  const taken = state.refs.blocks.map((row) => row.block);
  if (!valueOf("session-form", "block")) field("session-form", "block").value = freeId(`s-${date}`, taken);
  byId("patterns").replaceChildren(...state.refs.patterns.map((row) => element("option", "", { value: row.pattern })));
  drawWho(setup);
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

let addresses = [];
const counted = (shots) => (shots === 1 ? "1 delivery is" : `${shots} deliveries are`);

function drawFiles() {
  addresses.forEach((address) => URL.revokeObjectURL(address));
  addresses = [];
  const files = filesToSave(state, columns);
  const shots = state.sessions.flatMap((session) => session.events).filter((event) => event.type === "shot").length;
  byId("count").textContent = shots ? `${counted(shots)} kept on this phone.` : "No deliveries yet.";
  const lines = files.map(({ name, text }) => {
    const href = URL.createObjectURL(new Blob([text], { type: "text/csv" }));
    addresses.push(href);
    const line = element("li", "");
    line.append(element("a", `Save ${name}`, { href, download: name }));
    return line;
  });
  byId("links").replaceChildren(...lines);
  byId("share").hidden = !files.length || !navigator.canShare?.({ files: asFiles(files) });
}

const asFiles = (files) => files.map(({ name, text }) => new File([text], name, { type: "text/csv" }));

async function shareFiles() {
  try {
    await navigator.share({ files: asFiles(filesToSave(state, columns)) });
  } catch (error) {
    if (error.name !== "AbortError") complain("Sharing did not work: save the files one by one.");
  }
}

function erase() {
  if (!byId("erase-sure").checked) return complain("Tick that the files have loaded first.", byId("erase-sure"));
  eraseSessions(byId("erase-all").checked);
  for (const id of ["erase-sure", "erase-all"]) byId(id).checked = false;
  drawFiles();
  return say("Erased.");
}

function applySettings() {
  document.documentElement.dataset.thumb = state.thumb;
  document.documentElement.dataset.colours = state.colours;
  byId("left-thumb").checked = state.thumb === "left";
  byId("colours").value = state.colours;
}

function start() {
  readKept();
  applySettings();
  listenToEntry();
  for (const button of document.querySelectorAll("[data-view]")) {
    button.addEventListener("click", () => (say(""), show(button.dataset.view)));
  }
  byId("bowler-form").addEventListener("submit", addBowler);
  byId("bowler-form").addEventListener("change", showName);
  byId("ball-form").addEventListener("submit", addBall);
  byId("session-form").addEventListener("submit", beginSession);
  byId("session-form").addEventListener("change", () => {
    byId("posted").hidden = !byId("session-form").elements.posted[1].checked;
  });
  byId("open").addEventListener("change", openFiles);
  byId("share").addEventListener("click", shareFiles);
  byId("erase").addEventListener("click", erase);
  const set = (key, value) => {
    state[key] = value;
    keep();
    applySettings();
  };
  byId("left-thumb").addEventListener("change", (event) => set("thumb", event.target.checked ? "left" : "right"));
  byId("colours").addEventListener("change", (event) => set("colours", event.target.value));
  addEventListener("storage", () => (readKept(), show(document.querySelector("[aria-current]").dataset.view)));
  document.addEventListener("input", (event) => event.target.closest("form") && event.target.removeAttribute("aria-invalid"));
  say("");
  show(currentSession() ? "log" : state.refs.bowlers.length ? "session" : "people");
}

start();
