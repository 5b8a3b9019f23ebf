"use strict";
// Putting a delivery right that was logged some time ago, without undoing the ones after it.

/** The stand that the delivery at this place of the events faced. */
function standBefore(setup, events, at) {
  return standOf({ ...setup, order: [events[at].bowler], out: [] }, events.slice(0, at));
}

/**
 * The events with the one at this place put right and what follows read anew: null if a later delivery of the same
 * bowler would face another frame, another delivery or other pins, as after a strike that was none.
 */
function withMended(setup, events, at, mended) {
  const read = events.slice(0, at);
  for (const event of [mended, ...events.slice(at + 1)]) {
    read.push(event);
    if (event.type !== "shot" || event.bowler !== mended.bowler) continue;
    const stand = standBefore(setup, read, read.length - 1);
    const moved = ["game", "frame", "delivery"].some((name) => event.row[name] !== stand[name]);
    const standing = event.foul ? stand.facing : event.standing;
    if (moved || !canStand(standing, stand.facing)) return null;
    const row = { ...event.row, leave: leaveText({ ...event, standing }, stand.fresh) };
    read[read.length - 1] = { ...event, standing, fresh: stand.fresh, row };
  }
  return read;
}

/** Open a logged delivery on the deck, as it was entered. */
function openToMend(at) {
  forgetTyped();
  state.draft = { ...draftOf(currentSession().events[at]), at };
  changed();
  scrollTo(0, 0);
  byId("turn").focus({ preventScroll: true });
  say("Change what was wrong, then press Put right.");
}

/** Store the mended delivery; returns it, or null if the ones after it no longer follow. */
function storeMended(mended) {
  const session = currentSession();
  const events = withMended(session.setup, session.events, state.draft.at, mended);
  if (!events) return null;
  session.events = events;
  state.draft = emptyDraft();
  keep();
  return mended;
}

function leaveAsItWas() {
  state.draft = emptyDraft();
  changed();
  say("Left as it was.");
}

/** This bowler's game, frame by frame: each delivery a button that opens it. */
function drawGame(bowler) {
  const { setup, events } = currentSession();
  const player = standOf(setup, events).players[bowler];
  const logged = [...(player?.all ?? [])];
  const scores = scoresOf(player);
  const lines = gameFrames(logged).map((frame, at) => {
    const line = element("li", "");
    line.append(...frame.map((mark) => mender(logged.shift(), mark)));
    if (at < scores.length) line.append(element("b", scores[at]));
    return line;
  });
  byId("frames").replaceChildren(...(lines.length ? lines : [element("li", "nothing logged yet")]));
}

function mender(event, mark) {
  const { frame, delivery } = event.row;
  const text = readable(mark, mark);
  const button = element("button", text, { type: "button", ariaLabel: `${text}: mend frame ${frame}, delivery ${delivery}` });
  button.addEventListener("click", () => openToMend(currentSession().events.indexOf(event)));
  return button;
}
