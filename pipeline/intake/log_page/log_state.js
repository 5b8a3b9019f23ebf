"use strict";
// What is kept on the phone, and every change to it. Each change is stored at once, so a locked phone loses nothing.

const KEPT_AS = "shot-log";
const EXTRAS = ["entry_board", "laydown_board", "breakpoint_board", "breakpoint_ft", "entry_angle_deg", "speed_mph", "rev_rpm"];
let state = emptyState();
let keeps = true;

function emptyState() {
  return {
    refs: { bowlers: [], balls: [], patterns: [], blocks: [] },
    sessions: [],
    draft: emptyDraft(),
    thumb: "right",
    colours: "",
  };
}

/** A delivery being entered. standing: null until somebody says what stands; at: its event if it is being mended. */
function emptyDraft() {
  return { standing: null, foul: false, ball: null, arrow: null, extras: {}, note: "", at: null };
}

/** A logged delivery as a draft. */
function draftOf({ row, standing, foul }) {
  const extras = Object.fromEntries(EXTRAS.filter((name) => name in row).map((name) => [name, row[name]]));
  const arrow = row.arrow_board === "" ? null : row.arrow_board;
  return { ...emptyDraft(), standing: foul ? null : standing, foul, ball: row.ball, arrow, extras, note: row.note };
}

/** Earlier sessions lie apart, so that a touch stores the running one only, however long the season. */
const earlierKey = (at) => `${KEPT_AS} ${at}`;

function readKept() {
  try {
    const text = localStorage.getItem(KEPT_AS);
    if (!text) return;
    const { earlier, running, ...rest } = JSON.parse(text);
    const sessions = Array.from({ length: earlier }, (_, at) => JSON.parse(localStorage.getItem(earlierKey(at))));
    state = { ...emptyState(), ...rest, draft: { ...emptyDraft(), ...rest.draft }, sessions: [...sessions, running].filter(Boolean) };
  } catch {
    keeps = false;
  }
}

function keep() {
  try {
    const { sessions, ...rest } = state;
    const kept = { ...rest, earlier: Math.max(0, sessions.length - 1), running: sessions.at(-1) ?? null };
    localStorage.setItem(KEPT_AS, JSON.stringify(kept));
    keeps = true;
  } catch {
    keeps = false;
  }
}

/** Store every session: another one runs now. */
function keepAll() {
  try {
    state.sessions.slice(0, -1).forEach((session, at) => localStorage.setItem(earlierKey(at), JSON.stringify(session)));
  } catch {
    keeps = false; // keep() says so
  }
  keep();
}

const currentSession = () => state.sessions.at(-1) ?? null;
const bagOf = (id) => state.refs.balls.filter((ball) => ball.bowler === id);
const bowlerOf = (id) => state.refs.bowlers.find((bowler) => bowler.bowler === id);
const isLeft = (id) => /^l/i.test(bowlerOf(id)?.hand ?? "");
const shotsOf = (session, id) => session.events.filter((event) => event.type === "shot" && event.bowler === id);
const isYes = (text) => ["yes", "y", "true", "1", "x", "t"].includes(String(text ?? "").toLowerCase());

/** The delivery on the screen: the one due, or the one being mended. */
function currentStand() {
  const session = currentSession();
  if (!session) return null;
  const { setup, events } = session;
  return state.draft.at === null ? standOf(setup, events) : standBefore(setup, events, state.draft.at);
}

/** The ball to suggest: the last one thrown at a rack of this kind, else one meant for it. */
function usualBall(stand) {
  const bag = bagOf(stand.bowler);
  const alike = shotsOf(currentSession(), stand.bowler).filter((event) => event.fresh === stand.fresh).at(-1);
  if (alike && bag.some((ball) => ball.ball === alike.row.ball)) return alike.row.ball;
  const meant = bag.find((ball) => isYes(ball.spare_ball) !== stand.fresh);
  return (meant ?? bag[0])?.ball ?? null;
}

/** Boards crossed lately by this bowler at racks of this kind, newest first, at most three. */
function usualBoards(stand) {
  const alike = shotsOf(currentSession(), stand.bowler).filter((event) => event.fresh === stand.fresh);
  const boards = alike.map((event) => event.row.arrow_board).filter((board) => board !== "");
  return [...new Set(boards.reverse())].slice(0, 3);
}

/** Whether a block holds no game of this number. */
const isBeyond = (game) => game > shotColumn("game").high;

/** Add the drafted delivery to the log. Returns the event, or null if something is missing. */
function recordDraft() {
  const stand = currentStand();
  const { standing, foul, arrow, extras, note } = state.draft;
  const ball = state.draft.ball ?? usualBall(stand);
  if (!ball || isBeyond(stand.game) || (!foul && (standing === null || !canStand(standing, stand.facing)))) return null;
  const mark = { standing: foul ? stand.facing : standing, foul };
  const { setup, events } = currentSession();
  const { bowler, game, frame, delivery, fresh } = stand;
  const lane = events[state.draft.at]?.row.lane ?? stand.lane;
  const row = { date: setup.date, block: setup.block, bowler, lane, game, frame, delivery, ball };
  Object.assign(row, { arrow_board: arrow ?? "", ...extras, leave: leaveText(mark, fresh), foul: foul ? "yes" : "", note });
  const event = { type: "shot", bowler, ...mark, fresh, row };
  if (state.draft.at !== null) return storeMended(event);
  events.push(event);
  state.draft = emptyDraft();
  keep();
  return event;
}

/** Add a turn, join, swap, lanes or game event. What was marked stays if it still can: the wrong name may have been up. */
function addEvent(event) {
  const { standing, foul, arrow, at } = state.draft;
  const { facing } = currentStand();
  currentSession().events.push(event);
  state.draft = emptyDraft();
  if (at === null && event.type === "turn" && currentStand().facing === facing) Object.assign(state.draft, { standing, foul, arrow });
  keep();
}

/** Take back the last event; a delivery goes back into the draft, to be mended. Returns it, or null. */
function undoLast() {
  const event = currentSession()?.events.pop() ?? null;
  if (!event) return null;
  state.draft = emptyDraft();
  if (event.type === "shot") {
    const { setup, events } = currentSession();
    setup.out = setup.out.filter((id) => id !== event.bowler); // whoever went home since is needed to mend it
    if (currentStand().bowler !== event.bowler) events.push({ type: "turn", bowler: event.bowler });
    state.draft = draftOf(event);
  }
  keep();
  return event;
}

function addReference(kind, row) {
  state.refs[kind].push(row);
  keep();
}

function startSession(setup) {
  state.sessions.push({ setup, events: [] });
  state.draft = emptyDraft();
  keepAll();
}

/** Go on with an earlier session. The one that ran goes if nothing was logged in it, and its block with it. */
function resumeSession(session) {
  const running = currentSession();
  const rest = state.sessions.filter((other) => other !== session && (other !== running || running.events.length));
  if (!rest.includes(running)) state.refs.blocks = state.refs.blocks.filter((row) => row.block !== running.setup.block);
  state.sessions = [...rest, session];
  state.draft = emptyDraft();
  keepAll();
}

/** Forget every delivery; and, if all is to go, bowlers, balls, patterns and blocks too. */
function eraseSessions(all) {
  const earlier = state.sessions.map((_, at) => earlierKey(at));
  state.sessions = [];
  if (all) state.refs = emptyState().refs;
  state.draft = emptyDraft();
  keep();
  if (keeps) earlier.forEach((key) => localStorage.removeItem(key));
}

/** Whether deliveries name this bowler or ball, so that it cannot be removed. */
function isUsed(column, id) {
  return state.sessions.some((session) => session.events.some((event) => event.row?.[column] === id));
}
