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

/** A delivery being entered. standing: null until somebody says what stands. */
function emptyDraft() {
  return { standing: null, foul: false, ball: null, arrow: null, extras: {}, note: "" };
}

/** Earlier sessions lie apart, so that a touch stores the running one only, however long the season. */
const earlierKey = (at) => `${KEPT_AS} ${at}`;

function readKept() {
  try {
    const text = localStorage.getItem(KEPT_AS);
    if (!text) return;
    const { earlier, running, ...rest } = JSON.parse(text);
    const sessions = Array.from({ length: earlier }, (_, at) => JSON.parse(localStorage.getItem(earlierKey(at))));
    state = { ...emptyState(), ...rest, sessions: [...sessions, running].filter(Boolean) };
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

/** Put the running session with the earlier ones. */
function keepApart() {
  try {
    if (state.sessions.length) localStorage.setItem(earlierKey(state.sessions.length - 1), JSON.stringify(currentSession()));
  } catch {
    keeps = false; // keep() says so
  }
}

const currentSession = () => state.sessions.at(-1) ?? null;
const bagOf = (id) => state.refs.balls.filter((ball) => ball.bowler === id);
const bowlerOf = (id) => state.refs.bowlers.find((bowler) => bowler.bowler === id);
const isLeft = (id) => /^l/i.test(bowlerOf(id)?.hand ?? "");
const shotsOf = (session, id) => session.events.filter((event) => event.type === "shot" && event.bowler === id);
const isYes = (text) => ["yes", "y", "true", "1", "x", "t"].includes(String(text ?? "").toLowerCase());

function currentStand() {
  const session = currentSession();
  return session ? standOf(session.setup, session.events) : null;
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
  const { setup } = currentSession();
  const { bowler, lane, game, frame, delivery, fresh } = stand;
  const row = { date: setup.date, block: setup.block, bowler, lane, game, frame, delivery, ball };
  Object.assign(row, { arrow_board: arrow ?? "", ...extras, leave: leaveText(mark, fresh), foul: foul ? "yes" : "", note });
  const event = { type: "shot", bowler, ...mark, fresh, row };
  currentSession().events.push(event);
  state.draft = emptyDraft();
  keep();
  return event;
}

/** Add a turn, swap, lanes or game event. */
function addEvent(event) {
  currentSession().events.push(event);
  state.draft = emptyDraft();
  keep();
}

/** Take back the last event; a delivery goes back into the draft, to be mended. Returns it, or null. */
function undoLast() {
  const event = currentSession()?.events.pop() ?? null;
  if (!event) return null;
  state.draft = emptyDraft();
  if (event.type === "shot") {
    const { row, standing, foul } = event;
    const extras = Object.fromEntries(EXTRAS.filter((name) => name in row).map((name) => [name, row[name]]));
    const arrow = row.arrow_board === "" ? null : row.arrow_board;
    state.draft = { standing: foul ? null : standing, foul, ball: row.ball, arrow, extras, note: row.note };
    // A turn taken by hand comes back with its own event; the bowler follows from what is left.
  }
  keep();
  return event;
}

function addReference(kind, row) {
  state.refs[kind].push(row);
  keep();
}

function startSession(setup) {
  keepApart();
  state.sessions.push({ setup, events: [] });
  state.draft = emptyDraft();
  keep();
}

function eraseSessions() {
  const earlier = state.sessions.map((_, at) => earlierKey(at));
  state.sessions = [];
  state.draft = emptyDraft();
  keep();
  if (keeps) earlier.forEach((key) => localStorage.removeItem(key));
}

/** Whether deliveries name this bowler or ball, so that it cannot be removed. */
function isUsed(column, id) {
  return state.sessions.some((session) => session.events.some((event) => event.row?.[column] === id));
}
