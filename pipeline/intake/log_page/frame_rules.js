"use strict";
// The rules of a frame and of turns, as functions of what was logged; nothing here draws or stores.
// A leave is a bit mask: bit p - 1 is set if pin p stands, so 0 is none and 1023 the full rack.

const FULL_RACK = 1023;
const PINS = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10];
const bitOf = (pin) => 1 << (pin - 1);
const pinsIn = (mask) => PINS.filter((pin) => mask & bitOf(pin));

/** What the next delivery of a frame faces. Marks: {standing, foul} of its deliveries so far, in order. */
function rackAfter(marks, tenth) {
  let facing = FULL_RACK;
  let fresh = true;
  for (let at = 0; at < marks.length; at += 1) {
    const number = at + 1;
    const standing = marks[at].foul ? facing : marks[at].standing; // a foul's pins are set up again
    const down = standing === 0;
    const over = tenth ? number === 3 || (number === 2 && !fresh && !down) : down || number === 2;
    if (over) return { over: true, facing: 0, fresh: false, delivery: 0 };
    fresh = tenth && down;
    facing = fresh ? FULL_RACK : standing;
  }
  return { over: false, facing, fresh, delivery: marks.length + 1 };
}

/** Pins that count for a delivery: a foul fells none. */
function countOf(facing, mark) {
  return mark.foul ? 0 : pinsIn(facing & ~mark.standing).length;
}

/** Whether these pins can still stand after a delivery that faced `facing`. */
const canStand = (standing, facing) => standing >= 0 && (standing & ~facing) === 0;

/** The leave as our CSV has it. */
function leaveText(mark, fresh) {
  if (mark.foul) return "F";
  if (mark.standing === 0) return fresh ? "X" : "/";
  return pinsIn(mark.standing).join("-");
}

/** Marks of each frame with what each delivery faced and counts: a list of frames, each a list of deliveries. */
function gameFrames(marks) {
  const frames = [];
  let open = [];
  for (const mark of marks) {
    const rack = rackAfter(open, frames.length === 9);
    open.push({ ...mark, facing: rack.facing, fresh: rack.fresh, count: countOf(rack.facing, mark) });
    if (rackAfter(open, frames.length === 9).over) {
      frames.push(open);
      open = [];
    }
  }
  return open.length ? [...frames, open] : frames;
}

/** Running score after each settled frame. A strike adds the next two deliveries, a spare the next one. */
function runningScores(counts) {
  const scores = [];
  let total = 0;
  let at = 0;
  for (let frame = 1; frame <= 10; frame += 1) {
    const strike = counts[at] === 10;
    const marked = strike || counts[at] + counts[at + 1] === 10;
    const needed = marked ? 3 : 2;
    if (counts.length < at + needed) break;
    for (let n = 0; n < needed; n += 1) total += counts[at + n];
    scores.push(total);
    at += strike ? 1 : 2;
  }
  return scores;
}

function playerAt(game) {
  return { game, frame: 1, marks: [], all: [] };
}

function takeShot(player, event) {
  const first = player.frame === 1 && player.marks.length === 0;
  player.all = first ? [event] : [...player.all, event]; // a finished game stays in sight until the next begins
  player.marks.push(event);
  if (!rackAfter(player.marks, player.frame === 10).over) return false;
  player.marks = [];
  player.frame += 1;
  if (player.frame > 10) {
    player.game += 1;
    player.frame = 1;
  }
  return true;
}

/**
 * Where the session stands: whose turn it is, on which lane, in which game and frame.
 * Setup: {lanes, game, order, out}. Events: {type: shot|turn|game|join|lanes|swap, ...} in order; undo drops the last.
 */
function standOf(setup, events) {
  const players = {};
  let floor = setup.game;
  const playerOf = (id) => (players[id] ??= playerAt(floor));
  let lanes = setup.lanes;
  let swapped = false;
  let turn = null;
  for (const event of events) {
    if (event.type === "shot") turn = takeShot(playerOf(event.bowler), event) ? null : event.bowler;
    else if (event.type === "turn") turn = event.bowler;
    else if (event.type === "swap") swapped = !swapped;
    else if (event.type === "lanes") [lanes, swapped] = [event.lanes, false];
    else if (event.type === "join") {
      if (playerOf(event.bowler).game < event.game) players[event.bowler] = playerAt(event.game);
    }
    else {
      floor = event.game;
      turn = null;
      for (const player of Object.values(players)) {
        if (player.game < floor) Object.assign(player, playerAt(floor));
      }
    }
  }
  const here = setup.order.filter((id) => !setup.out.includes(id));
  const progress = (id) => playerOf(id).game * 10 + playerOf(id).frame;
  const next = here.includes(turn) ? turn : here.reduce((a, b) => (progress(b) < progress(a) ? b : a), here[0]);
  if (next === undefined) return { players, lanes, bowler: null };
  const { game, frame, marks } = playerOf(next);
  const lane = lanes[(frame - 1 + (swapped ? 1 : 0)) % lanes.length];
  return { players, lanes, bowler: next, game, frame, lane, ...rackAfter(marks, frame === 10) };
}
