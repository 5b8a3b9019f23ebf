"use strict";
// Our CSV files: reading the ones a bowler already has, and writing what was logged.

/** Rows of a CSV text as lists of fields; quotes as in RFC 4180, comma or semicolon as the header has it. */
function parseCsv(text) {
  const clean = text.replace(/^\uFEFF/, "");
  const header = clean.split(/\r?\n/, 1)[0];
  const delimiter = [",", ";", "\t"].reduce((a, b) => (header.split(b).length > header.split(a).length ? b : a));
  const rows = [];
  let row = [];
  let field = "";
  let quoted = false;
  for (let at = 0; at < clean.length; at += 1) {
    const sign = clean[at];
    if (quoted) {
      if (sign !== '"') field += sign;
      else if (clean[at + 1] === '"') field += clean[(at += 1)];
      else quoted = false;
    } else if (sign === '"' && field === "") quoted = true;
    else if (sign === delimiter) [row, field] = [[...row, field], ""];
    else if (sign === "\n") [rows[rows.length], row, field] = [[...row, field], [], ""];
    else if (sign !== "\r") field += sign;
  }
  if (field || row.length) rows.push([...row, field]);
  return rows.map((fields) => fields.map((value) => value.trim())).filter((fields) => fields.some(Boolean));
}

function csvField(value) {
  const text = String(value ?? "").replace(/\s+/g, " ").trim();
  return /[",;]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}

/** A CSV of these rows (objects by column name); columns the project does not know follow its own. */
function csvText(names, rows) {
  const others = new Set(rows.flatMap((row) => Object.keys(row)).filter((name) => !names.includes(name)));
  const columns = [...names, ...others];
  const lines = rows.map((row) => columns.map((name) => csvField(row[name])).join(","));
  return [columns.join(","), ...lines].join("\n") + "\n";
}

/** The kind of reference file a header belongs to, or null: it must have every required column of the kind. */
function kindOf(header, columns) {
  const kinds = ["balls", "bowlers", "patterns", "blocks"];
  const fits = (kind) => columns[kind].every((column) => !column.required || header.includes(column.name));
  const key = (kind) => header[0] === kind.slice(0, -1);
  return kinds.find((kind) => key(kind) && fits(kind)) ?? null;
}

/** Take in a reference file; its rows replace those of the same id. Returns {kind, rows} or null if it is not ours. */
function readReference(text, columns) {
  const [header, ...rows] = parseCsv(text);
  if (!header) return null;
  const names = header.map((name) => name.toLowerCase());
  const kind = kindOf(names, columns);
  if (!kind) return null;
  const asObject = (fields) => Object.fromEntries(names.map((name, at) => [name, fields[at] ?? ""]));
  return { kind, rows: rows.map(asObject).filter((row) => row[kind.slice(0, -1)]) };
}

function mergeRows(mine, read, key) {
  const ids = new Set(read.map((row) => row[key]));
  return [...read, ...mine.filter((row) => !ids.has(row[key]))];
}

/** Every file to save: {name, text}. One shots file per session, and the reference files its rows name. */
function filesToSave(state, columns) {
  const names = (kind) => columns[kind].map((column) => column.name);
  const shots = state.sessions.map((session) => ({
    name: `shots_${session.setup.block}.csv`,
    rows: session.events.filter((event) => event.type === "shot").map((event) => event.row),
  }));
  const files = shots.filter((file) => file.rows.length);
  const saved = files.map((file) => ({ name: file.name, text: csvText(names("shots"), file.rows) }));
  const kinds = Object.keys(state.refs).filter((kind) => state.refs[kind].length);
  return [...saved, ...kinds.map((kind) => ({ name: `${kind}.csv`, text: csvText(names(kind), state.refs[kind]) }))];
}

/** A number as typed, with either decimal sign; null if it is none or out of bounds, "" if nothing was typed. */
function readNumber(text, column) {
  const word = text.trim().replace(",", ".");
  if (!word) return "";
  if (!/^-?\d+(\.\d+)?$/.test(word)) return null;
  const value = Number(word);
  if (column.type === "whole" && !Number.isInteger(value)) return null;
  return value >= column.low && value <= column.high ? value : null;
}

/** An id made of a name: letters, digits and hyphens only. */
function idFrom(name) {
  return name.trim().toLowerCase().replace(/[^\p{L}\p{N}]+/gu, "-").replace(/^-+|-+$/g, "");
}

/** The first of id, id-2, id-3 ... that is free. */
function freeId(wanted, taken) {
  let id = wanted;
  for (let n = 2; taken.includes(id); n += 1) id = `${wanted}-${n}`;
  return id;
}
