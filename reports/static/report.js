"use strict";
(() => {
  const root = document.documentElement;
  const $ = (id) => document.getElementById(id);
  const all = (query, from) => Array.from((from || document).querySelectorAll(query));
  const fields = ["bowler", "pattern", "phase", ...($("by-plan") ? ["plan"] : [])];
  const form = $("filter");
  const tip = $("tip");
  root.classList.add("js");
  const title = document.title;

  /* State lives in the address: #section&bowler=..&pattern=..&phase=.. */
  function readHash() {
    const state = { place: "" };
    for (const part of location.hash.slice(1).split("&")) {
      const at = part.indexOf("=");
      if (at < 0) { state.place = decode(part) || state.place; continue; }
      if (fields.includes(part.slice(0, at))) { state[part.slice(0, at)] = decode(part.slice(at + 1)); }
    }
    return state;
  }

  function decode(text) {
    try { return decodeURIComponent(text); } catch { return ""; }
  }

  function hashOf(state, place) {
    const parts = place ? [encodeURIComponent(place)] : [];
    for (const field of fields) {
      if (state[field]) { parts.push(field + "=" + encodeURIComponent(state[field])); }
    }
    return parts.length ? "#" + parts.join("&") : "";
  }

  /* A field is chosen from a list of options, or from a row of radio buttons. */
  function options(field) { return all("option, input", $("by-" + field)); }

  function picked(field) { return options(field).find((item) => item.selected || item.checked); }

  function pick(field, value) {
    const known = options(field);
    const item = known.find((one) => one.value === value) || known[0];
    if (item.tagName === "INPUT") { item.checked = true; } else { item.selected = true; }
  }

  /* A posted pattern that nobody named is the latest one of the class asked for, else the latest. */
  function fill(state) {
    for (const field of fields) {
      const of = field === "plan" && !state.plan && options("plan").find((one) => one.dataset.class === state.pattern);
      pick(field, of ? of.value : state[field]);
    }
  }

  function chosen() {
    const state = {};
    for (const field of fields) { state[field] = form ? picked(field).value : readHash()[field] || ""; }
    return state;
  }

  function fits(item, state) {
    const data = item.dataset;
    return !(
      (state.bowler && data.bowler && data.bowler !== state.bowler && data.other !== state.bowler) ||
      (state.pattern && data.pattern && data.pattern !== state.pattern) ||
      (state.phase && data.phase && data.phase !== state.phase) ||
      (state.plan && data.plan && data.plan !== state.plan)
    );
  }

  /* Whether a filter changes anything on this page, of what is there for the bowler chosen. */
  function does(field) {
    const whom = picked("bowler").value;
    return all("main [data-" + field + "]").some((item) => {
      const shut = field !== "bowler" && item.closest("details.person:not([open])");
      if (shut && !item.closest("summary")) { return false; }
      const owner = field === "bowler" ? null : item.closest("[data-bowler]");
      return !whom || !owner || owner.dataset.bowler === whom || owner.dataset.other === whom;
    });
  }

  document.addEventListener("toggle", (event) => {
    if (form && event.target.matches("details.person")) { offer(); }
  }, true);

  function offer() {
    for (const field of fields) { ($("by-" + field).closest("label") || $("by-" + field)).hidden = !does(field) || options(field).length < 2; }
  }

  /* With nobody chosen, persons are folded to one line each; choosing somebody unfolds them. */
  let unfoldedFor = null;
  function fold(state) {
    if (state.bowler === unfoldedFor) { return; }
    unfoldedFor = state.bowler;
    const people = new Set(all("details.person[data-bowler]").map((item) => item.dataset.bowler));
    for (const item of all("details.person")) {
      item.open = "all" in item.dataset ? !state.bowler : Boolean(state.bowler) || people.size < 2;
    }
  }

  /* Columns that are on request show once asked for. */
  for (const button of all("button.more")) {
    button.hidden = false;
    button.addEventListener("click", () => {
      const wide = $(button.dataset.table).closest(".sheet").classList.toggle("wide");
      button.setAttribute("aria-expanded", String(wide));
      button.firstChild.textContent = wide ? "Fewer columns" : "More columns";
    });
  }

  /* Every table is sorted by the column one asks for; a second press turns the order round. */
  function sortKey(row, column) {
    const cell = row.cells[column];
    const text = cell.dataset.v !== undefined ? cell.dataset.v : cell.textContent.trim();
    return text !== "" && Number.isFinite(Number(text)) ? Number(text) : text;
  }

  function compare(one, other) {
    const numbers = [one, other].filter((value) => typeof value === "number").length;
    if (numbers === 2) { return one - other; }
    if (numbers === 1) { return typeof one === "number" ? 1 : -1; }
    return one.localeCompare(other, "en");
  }

  function sortBy(table, column, rising) {
    const body = table.tBodies[0];
    const rows = all("tr:not(.group)", body);
    const keys = new Map(rows.map((row) => [row, sortKey(row, column)]));
    rows.sort((one, other) => (rising ? 1 : -1) * compare(keys.get(one), keys.get(other)));
    body.append(...rows);
    all("thead th", table).forEach((head, at) => {
      if (at === column) { head.setAttribute("aria-sort", rising ? "ascending" : "descending"); }
      else { head.removeAttribute("aria-sort"); }
    });
    foldGroups(table);
  }

  for (const table of all("main table[data-sort]")) {
    all("thead th", table).forEach((head, column) => {
      const button = document.createElement("button");
      button.type = "button";
      button.className = "sort";
      button.append(...head.childNodes);
      head.append(button);
      button.addEventListener("click", () => {
        const now = head.getAttribute("aria-sort");
        const words = table.tBodies[0].rows.length > 0 && typeof sortKey(all("tr:not(.group)", table.tBodies[0])[0], column) === "string";
        sortBy(table, column, now ? now === "descending" : words);
      });
    });
  }

  /* A long table folds by what its rows say; each fold has its finding and its number of rows on its own line. */
  const LONG = 12;
  const opened = new Set();
  const closed = new Set();
  function foldGroups(table) {
    const body = table.tBodies[0];
    for (const row of all("tr.group", body)) { row.remove(); }
    const rows = all("tr", body);
    const shown = rows.filter((row) => !row.hidden);
    const groups = new Map();
    for (const row of shown) {
      row.classList.remove("over");
      if (!row.dataset.group) { return; }
      groups.set(row.dataset.group, [...(groups.get(row.dataset.group) || []), row]);
    }
    if (shown.length <= LONG || groups.size < 2) { return; }
    let first = "opens" in table.dataset;
    for (const [name, members] of groups) {
      const key = table.id + "/" + name;
      const head = document.createElement("tr");
      head.className = "group";
      const cell = head.insertCell();
      cell.colSpan = table.tHead.rows[0].cells.length;
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = name + " (" + members.length.toLocaleString("en") + ")";
      const turn = (open) => {
        button.setAttribute("aria-expanded", String(open));
        for (const row of members) { row.classList.toggle("over", !open); }
      };
      button.addEventListener("click", () => {
        const open = button.getAttribute("aria-expanded") !== "true";
        for (const [list, into] of [[opened, open], [closed, !open]]) { if (into) { list.add(key); } else { list.delete(key); } }
        turn(open);
      });
      cell.append(button);
      body.append(head, ...members);
      turn(opened.has(key) || (first && !closed.has(key)));
      first = false;
    }
  }

  function apply() {
    const state = chosen();
    fold(state);
    for (const item of all("main [data-bowler], main [data-pattern], main [data-phase], main [data-plan]")) {
      item.hidden = !fits(item, state);
    }
    for (const item of all("[data-when]")) { item.hidden = item.dataset.when !== state.bowler; }
    for (const list of all("ol.todo")) {
      all("li[data-shots]:not([hidden])", list).forEach((item, order) => { item.hidden = order >= Number(list.dataset.most); });
    }
    root.classList.toggle("one", Boolean(state.bowler));
    for (const cell of all("[data-whose]")) { cell.classList.toggle("me", cell.dataset.whose === state.bowler); }
    for (const sheet of all("main .sheet")) { sheetState(sheet); }
    for (const table of all("main table[data-sort]")) { foldGroups(table); }
    for (const block of all("main .person, main .strip3, main .grids, main .skill")) { emptyState(block); }
    for (const part of all("main [data-part]")) { partState(part); }
    for (const link of all("a[data-carry]")) {
      link.href = link.getAttribute("href").split("#")[0] + hashOf(state, "");
    }
    tell(state);
  }

  /* A table whose rows are all hidden says so instead of showing a bare head. */
  function sheetState(sheet) {
    const rows = all("tbody > tr:not(.group)", sheet);
    const bare = rows.length > 0 && rows.every((row) => row.hidden);
    sheet.classList.toggle("bare", bare);
    const next = sheet.nextElementSibling;
    const known = next && next.classList.contains("bare-note") ? next : null;
    noted(known, bare, "", "Nothing here for this choice.", (note) => sheet.after(note));
  }

  /* Show a note, made and put in its place where it is first needed, or hide it. */
  function noted(known, shown, kind, text, put) {
    if (known) { known.hidden = !shown; return; }
    if (!shown) { return; }
    const note = document.createElement("p");
    note.className = ("none bare-note " + kind).trim();
    note.textContent = text;
    put(note);
  }

  function emptyState(block) {
    const inner = all("[data-pattern], [data-phase]", block).filter((item) => item.tagName !== "TR");
    if (inner.length && inner.every((item) => item.hidden)) { block.hidden = true; }
  }

  /* A part of which nothing is left says so under its heading. */
  function partState(part) {
    const inner = all("[data-bowler]", part);
    const told = all(".bare-note", part).some((note) => !note.hidden && !note.classList.contains("part-note"));
    const bare = inner.length > 0 && !told && inner.every((item) => item.closest("[hidden]"));
    const text = "Not enough was logged to show this for your choice.";
    noted(part.querySelector(".part-note"), bare, "part-note", text, (note) => part.append(note));
  }

  /* Whom and what the page is about, on screen and on paper. */
  function tell(state) {
    if (!form) { return; }
    offer();
    const text = (field) => picked(field).dataset.name || picked(field).text;
    const used = fields.filter((field) => state[field] && does(field));
    const named = used.filter((field) => picked(field) !== options(field)[0]).map(text);
    $("shown").textContent = used.length ? used.map(text).join(", ") : "everyone";
    document.title = (named.length ? named.join(", ") + ": " : "") + title;
    $("reset").disabled = fields.every((field) => picked(field) === options(field)[0]);
  }

  function reveal(place) {
    for (let box = place.closest("details"); box; box = box.parentElement.closest("details")) { box.open = true; }
    for (const box of all("details.evidence", place)) { box.open = true; }
    for (const item of all(".lit")) { item.classList.remove("lit"); }
    if (!/^(H[1-6]|SECTION)$/.test(place.tagName)) { place.classList.add("lit"); }
    place.scrollIntoView();
  }

  function restore(scroll) {
    const state = readHash();
    if (form) { fill(state); }
    apply();
    const place = state.place && $(state.place);
    if (scroll && place) { reveal(place); }
  }

  if (form) {
    form.hidden = false;
    form.addEventListener("submit", (event) => event.preventDefault());
    const changed = () => {
      const next = hashOf(chosen(), readHash().place);
      history.replaceState(null, "", next || location.pathname + location.search);
      apply();
    };
    form.addEventListener("change", changed);
    if ($("by-plan")) { $("by-plan").addEventListener("change", changed); }
    $("reset").addEventListener("click", () => {
      fill({});
      changed();
      $("by-bowler").focus();
    });
    $("print").addEventListener("click", () => { window.print(); });
    const scheme = $("scheme");
    const isDark = () => root.dataset.scheme
      ? root.dataset.scheme === "dark"
      : matchMedia("(prefers-color-scheme: dark)").matches;
    const label = () => {
      scheme.setAttribute("aria-pressed", String(isDark()));
    };
    scheme.addEventListener("click", () => { root.dataset.scheme = isDark() ? "light" : "dark"; label(); });
    label();
  }

  /* A link inside the page keeps the filter. */
  document.addEventListener("click", (event) => {
    const link = event.target.closest && event.target.closest('a[href^="#"]');
    if (!link || link.classList.contains("skip")) { return; }
    event.preventDefault();
    const [place, ...given] = link.getAttribute("href").slice(1).split("&").map(decode);
    for (const part of given) {
      const [field, value] = part.split("=");
      if (fields.includes(field)) { pick(field, value); }
    }
    history.pushState(null, "", hashOf(chosen(), place));
    if (given.length) { apply(); }
    const target = $(place);
    if (target) { reveal(target); target.tabIndex = -1; target.focus({ preventScroll: true }); }
  });
  window.addEventListener("hashchange", () => restore(true));
  window.addEventListener("popstate", () => restore(true));

  /* CSV of a table as filtered; text that a spreadsheet could run as a formula gets a quote mark in front, by the rule of
     pipeline/spreadsheet.py, whose pattern is put in here. */
  const risky = new RegExp("FORMULA");
  function csvField(text) {
    const flat = text.replace(/\s+/g, " ").trim();
    const plainNumber = /^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i.test(flat);
    const safe = plainNumber ? flat : flat.replace(risky, "'$1");
    return /[",\n\r]/.test(safe) ? '"' + safe.replace(/"/g, '""') + '"' : safe;
  }

  function csvOf(table) {
    const lines = [all("thead th", table).map((cell) => csvField(cell.textContent))];
    for (const row of all("tbody tr:not(.group)", table)) {
      if (!row.hidden) {
        lines.push(all("th, td", row).map((cell) => csvField(cell.dataset.v !== undefined ? cell.dataset.v : cell.textContent)));
      }
    }
    return "\ufeff" + lines.map((line) => line.join(",")).join("\r\n") + "\r\n";
  }

  for (const button of all("button.save")) {
    button.hidden = false;
    button.addEventListener("click", () => {
      const link = document.createElement("a");
      link.href = URL.createObjectURL(new Blob([csvOf($(button.dataset.table))], { type: "text/csv;charset=utf-8" }));
      link.download = button.dataset.table.replace(/[^\w-]+/g, "_") + ".csv";
      link.click();
      setTimeout(() => URL.revokeObjectURL(link.href), 1000);
    });
  }

  /* Values on hover, touch and arrow keys. */
  function show(text, x, y) {
    tip.textContent = text;
    tip.hidden = false;
    const box = tip.getBoundingClientRect();
    const left = Math.min(Math.max(6, x + 12), innerWidth - box.width - 6);
    const top = y - box.height - 12 > 6 ? y - box.height - 12 : y + 16;
    tip.style.left = left + "px";
    tip.style.top = top + "px";
  }

  function hide() { tip.hidden = true; }

  function middle(mark) {
    const box = mark.getBoundingClientRect();
    return [box.left + box.width / 2, box.top + box.height / 2];
  }

  /* The mark nearest to the finger or pointer: anywhere in a plot answers. */
  function nearest(plot, x, y) {
    let best = null;
    let least = Number.MAX_VALUE;
    for (const mark of all("[data-tip]", plot)) {
      const [cx, cy] = middle(mark);
      const distance = (cx - x) ** 2 + ((cy - y) / 2) ** 2;
      if (distance < least) { least = distance; best = mark; }
    }
    return best;
  }

  let pointed = false;
  function answer(event) {
    pointed = true;
    const plot = event.target.closest && event.target.closest(".plot");
    const mark = plot ? nearest(plot, event.clientX, event.clientY)
      : event.target.closest && event.target.closest("[data-tip]");
    if (!mark) { hide(); return; }
    if (plot) { show(mark.dataset.tip, ...middle(mark)); } else { show(mark.dataset.tip, event.clientX, event.clientY); }
  }

  document.addEventListener("pointermove", answer);
  document.addEventListener("pointerdown", answer);
  document.addEventListener("keydown", (event) => {
    pointed = false;
    if (event.key === "Escape") { hide(); return; }
    const plot = document.activeElement;
    const answers = plot.classList.contains("plot") || plot.querySelector(":scope > :is(.heat, .asks)");
    if (!answers || !["ArrowLeft", "ArrowRight"].includes(event.key)) { return; }
    const marks = all("[data-tip]", plot);
    if (!marks.length) { return; }
    event.preventDefault();
    const step = event.key === "ArrowRight" ? 1 : -1;
    const at = Number(plot.dataset.at === undefined ? (step > 0 ? -1 : 0) : plot.dataset.at);
    plot.dataset.at = String((at + step + marks.length) % marks.length);
    show(marks[plot.dataset.at].dataset.tip, ...middle(marks[plot.dataset.at]));
  });
  /* A link beside whose answer more is known says it to the keyboard too. */
  document.addEventListener("focusin", (event) => {
    const mark = event.target.matches(":focus-visible") && event.target.closest("[data-tip]");
    if (mark) { show(mark.dataset.tip, ...middle(mark)); }
  });
  /* A finger that goes from one chart to the next takes the focus with it; what it points at stays. */
  document.addEventListener("focusout", () => { if (!pointed) { hide(); } });
  window.addEventListener("scroll", hide, { passive: true });

  /* On paper everything that the filter shows is unfolded, then folded back. */
  let folded = [];
  window.addEventListener("beforeprint", () => {
    folded = all("details.person:not([open])").filter((item) => !chosen().bowler || !("all" in item.dataset));
    folded.push(...all("details[data-wide]:not([open])"));
    for (const item of folded) { item.open = true; }
  });
  window.addEventListener("afterprint", () => { for (const item of folded) { item.open = false; } });

  /* What a wide screen has room for is on request on a phone, and printed from either. */
  if (matchMedia("(max-width: 44rem)").matches) {
    for (const item of all("details[data-wide]")) { item.open = false; }
  }

  restore(true);
})();
