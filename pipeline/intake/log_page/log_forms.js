"use strict";
// Bowlers and balls, opening and saving files; and the start of the page.

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
  field("session-form", "date").addEventListener("change", suggestBlock);
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
