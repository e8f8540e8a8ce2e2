// Sends what is turned, and shows what comes back. Nothing is worked out here.
"use strict";

const at = (id) => document.getElementById(id);

/** An element with classes, text and attributes. */
function make(name, options = {}, ...children) {
  const element = document.createElement(name);
  const { text, of, ...attributes } = options;
  if (text !== undefined) element.textContent = text;
  if (of) element.className = of;
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  element.append(...children);
  return element;
}

async function ask(what, body) {
  const response = await fetch(what, {
    method: "POST",
    headers: { "Content-Type": "application/json" },
    body: JSON.stringify(body),
    credentials: "omit",
    redirect: "error",
  });
  const reply = await response.json();
  if (!response.ok) throw Object.assign(new Error(reply.error), { status: response.status });
  return reply;
}

// One request is under way at a time. What is turned meanwhile waits; of one gesture only the latest
// text does, and every request has a greater number than the one before.
const waiting = [];
let tab = null;
let number = 0;
let shown = -1;
let busy = false;
let gesture = 0;
/** Controls by their paths: how to show where they stand, and where to say what is wrong. */
const controls = new Map();

function turn(path, text) {
  const last = waiting[waiting.length - 1];
  if (last && last.set && last.set.path === path && last.set.gesture === gesture) {
    last.set.text = text;
  } else {
    waiting.push({ set: { path, text, gesture } });
  }
  pump();
}

function act(deed) {
  waiting.push(deed);
  pump();
}

async function pump() {
  if (busy || !tab) return;
  setBusy(true);
  while (waiting.length > 0) {
    const deed = waiting.shift();
    number += 1;
    await send(deed, number);
  }
  setBusy(false);
}

function setBusy(now) {
  busy = now;
  document.querySelector("main").setAttribute("aria-busy", String(now));
}

async function send(deed, own) {
  const path = deed.set ? deed.set.path : null;
  try {
    const reply = await ask("change", { tab, number: own, do: deed });
    if (path) complain(path, "");
    await show(reply);
    await read(reply);
  } catch (error) {
    if (error.status === 409 || error.status === 404) {
      await again(deed, error.status === 404).catch((another) => say(another.message));
    } else if (path && error.status === 422) {
      complain(path, error.message);
    } else {
      say(error.status ? error.message : "The server does not answer: it may have been ended.");
    }
  }
}

/** Takes up a tab that another page has turned, or one that the server has forgotten, as it stood. */
async function again(deed, isForgotten) {
  const last = [...controls.values()].map((control) => control.last);
  await open();
  const kept = last.filter((one) => isForgotten && one && one.changed);
  const sets = kept.map(({ path, text }) => ({ set: { path, text, gesture: 0 } }));
  waiting.unshift(...sets, deed);
}

function say(text) {
  at("message").textContent = text;
}

/** Says beside a control what is wrong with its text, and puts it back to where it stands. */
function complain(path, text) {
  const control = controls.get(path);
  if (!control) return;
  control.problem.textContent = text;
  if (text !== "" && control.last) control.stand(control.last, false);
}

/** Shows a reply, unless what is shown is newer. */
async function show(reply) {
  if (reply.number <= shown) return;
  const picture = reply.picture;
  let screen = null;
  if (picture) {
    screen = at("screen").cloneNode();
    screen.src = "data:image/png;base64," + picture.frame;
    await screen.decode();
    if (reply.number <= shown) return;
  }
  shown = reply.number;
  at("undo").disabled = !reply.undo;
  at("redo").disabled = !reply.redo;
  for (const standing of reply.controls) {
    const control = controls.get(standing.path);
    if (!control) continue;
    control.last = standing;
    control.stand(standing, waiting.some((one) => one.set && one.set.path === standing.path));
  }
  if (reply.overtaken) return;
  say(reply.failure === null ? "" : reply.failure);
  if (!picture) {
    none();
    return;
  }
  screen.classList.remove("stale");
  at("screen").replaceWith(screen);
}

/** Asks for the words of a picture that is shown, and shows them when it has been painted, unless more is on its way. */
async function read({ number: own, picture }) {
  if (!picture || own !== shown || waiting.length > 0) return;
  const [reply] = await Promise.all([ask("read", { tab, number: own }), painted()]);
  if (reply.overtaken || own !== shown) return;
  if (reply.failure !== null) {
    say(reply.failure);
    none();
    return;
  }
  const words = reply.words;
  at("results").classList.remove("stale");
  at("screen").alt = "What the set shows: " + words.state.join(", ");
  at("state").textContent = words.state.join(", ");
  at("seen").replaceChildren(
    ...words.seen.map((one) => make("li", { text: `${one.shape} ${one.element} ${one.word}` })),
  );
  draw(words);
  at("words").replaceChildren(...words.words.map(block));
  at("ladder").replaceChildren(...words.ladder.map(block));
}

/** What is shown is of another board. */
function none() {
  at("screen").classList.add("stale");
  at("results").classList.add("stale");
  at("state").textContent = "no picture";
  at("seen").replaceChildren();
}

/** Until what was put on the page is on the screen; of a page that nobody sees, at once. */
function painted() {
  if (document.hidden) return Promise.resolve();
  const next = new Promise((done) => requestAnimationFrame(() => setTimeout(done)));
  return Promise.race([next, new Promise((done) => setTimeout(done, 100))]);
}

function draw(words) {
  const parsed = new DOMParser().parseFromString(words.svg, "image/svg+xml");
  at("drawing").replaceChildren(document.importNode(parsed.documentElement, true));
  const line = at("line");
  line.max = String(words.lines - 1);
  if (document.activeElement !== line) line.value = String(words.line);
}

function block(one) {
  if (one.is === "table") return table(one);
  if (one.is === "prose") return make("p", { of: "prose", text: one.text });
  return make(one.is === "line" ? "p" : "div", { of: "plain", text: one.text });
}

function table(one) {
  const side = (index) => (one.columns[index].right ? { of: "right" } : {});
  const heads = one.columns.map((column, index) => make("th", { ...side(index), text: column.heading, scope: "col" }));
  const rows = one.rows.map((row) =>
    row.cells
      ? make("tr", {}, ...row.cells.map((cell, index) => make("td", { ...side(index), text: cell })))
      : make("tr", {}, make("td", { of: "prose", colspan: String(heads.length) }, make("div", { text: row.prose }))),
  );
  const body = make("table", {}, make("thead", {}, make("tr", {}, ...heads)), make("tbody", {}, ...rows));
  return make("div", { of: "wide", tabindex: "0", role: "region", "aria-label": "Table" }, body);
}

// Controls.

let ids = 0;

function lay(groups) {
  controls.clear();
  const sets = groups.map((group) => {
    const set = make("fieldset", {}, make("legend", { text: group.name }), make("p", { of: "about", text: group.about }));
    for (const control of group.controls) set.append(...build(group.name, control));
    return set;
  });
  at("parts").replaceChildren(...sets);
}

function build(name, control) {
  if (control.kind === "pair") return pair(name, control);
  return [control.kind === "steps" ? stepped(name, control) : worded(name, control)];
}

function frame(name, label, ...inputs) {
  ids += 1;
  inputs.forEach((input, index) => {
    input.id = `control-${ids}-${index}`;
    input.setAttribute("aria-label", `${name} ${label}` + (index > 0 ? ", as text" : ""));
  });
  const problem = make("p", { of: "problem", role: "alert" });
  const label_ = make("label", { text: label, for: inputs[0].id });
  return { box: make("div", { of: "control" }, label_, ...inputs, problem), problem };
}

/** A new gesture begins when a control is taken, and when one is let go. */
function grasped(input) {
  for (const event of ["pointerdown", "focus", "change"]) input.addEventListener(event, () => (gesture += 1));
}

function slider(texts) {
  const input = make("input", { type: "range", min: "0", max: String(texts.length - 1), step: "1" });
  grasped(input);
  return input;
}

/** The text beside a slider: any value may be typed; up and down step through the preferred ones. */
function field(range, texts, send) {
  const input = make("input", { type: "text", autocomplete: "off", spellcheck: "false" });
  input.addEventListener("change", () => {
    gesture += 1;
    send(input.value);
  });
  input.addEventListener("keydown", (event) => {
    const step = { ArrowUp: 1, ArrowDown: -1 }[event.key];
    if (!step) return;
    event.preventDefault();
    const next = Math.min(texts.length - 1, Math.max(0, Number(range.value) + step));
    range.value = String(next);
    input.value = texts[next];
    send(texts[next]);
  });
  return input;
}

function stepped(name, { path, labels, texts }) {
  const range = slider(texts);
  const send = (text) => {
    range.setAttribute("aria-valuetext", text);
    turn(path, text);
  };
  const text = field(range, texts, send);
  range.addEventListener("input", () => {
    text.value = texts[Number(range.value)];
    send(text.value);
  });
  const { box, problem } = frame(name, labels[0], range, text);
  box.dataset.path = path;
  const stand = (standing, isWaiting) => {
    box.classList.toggle("changed", standing.changed);
    if (isWaiting) return;
    if (standing.at.length > 0) range.value = String(standing.at[0]);
    range.setAttribute("aria-valuetext", standing.text);
    text.value = standing.text;
  };
  controls.set(path, { stand, problem });
  return box;
}

function pair(name, { path, labels, texts }) {
  const ranges = labels.map(() => slider(texts));
  const fields = [];
  const send = () => turn(path, `[${fields.map((field) => field.value).join(", ")}]`);
  ranges.forEach((range) => fields.push(field(range, texts, send)));
  const boxes = labels.map((label, index) => {
    ranges[index].addEventListener("input", () => {
      fields[index].value = texts[Number(ranges[index].value)];
      ranges[index].setAttribute("aria-valuetext", fields[index].value);
      send();
    });
    return frame(name, label, ranges[index], fields[index]);
  });
  boxes[0].box.dataset.path = path;
  const stand = (standing, isWaiting) => {
    boxes.forEach(({ box }) => box.classList.toggle("changed", standing.changed));
    if (isWaiting) return;
    standing.at.forEach((step, index) => {
      ranges[index].value = String(step);
      fields[index].value = standing.text.replace(/[[\]]/g, "").split(",")[index].trim();
      ranges[index].setAttribute("aria-valuetext", fields[index].value);
    });
  };
  controls.set(path, { stand, problem: boxes[0].problem });
  return boxes.map(({ box }) => box);
}

function worded(name, { path, labels, texts }) {
  const select = make("select", {}, ...texts.map((text) => make("option", { text, value: text })));
  select.addEventListener("change", () => {
    gesture += 1;
    turn(path, select.value);
  });
  const { box, problem } = frame(name, labels[0], select);
  box.dataset.path = path;
  const stand = (standing, isWaiting) => {
    box.classList.toggle("changed", standing.changed);
    if (isWaiting) return;
    if (!texts.includes(standing.text)) {
      texts.push(standing.text);
      select.append(make("option", { text: standing.text, value: standing.text }));
    }
    select.value = standing.text;
  };
  controls.set(path, { stand, problem });
  return box;
}

// The page.

/** Begins, or begins again with what the tab had turned before it was loaded anew. */
async function open() {
  const known = sessionStorage.getItem("tab");
  const reply = await ask("open", known ? { tab: known } : {});
  tab = reply.tab;
  sessionStorage.setItem("tab", tab);
  number = reply.number;
  shown = reply.number - 1;
  at("title").textContent = reply.title;
  document.title = reply.title;
  at("file").textContent = reply.file;
  lay(reply.groups);
  at("cautions").replaceChildren(...reply.cautions.map((text) => make("li", { text })));
  at("closing").textContent = reply.closing;
  await show(reply);
  await read(reply);
}

at("undo").addEventListener("click", () => act("undo"));
at("redo").addEventListener("click", () => act("redo"));
at("back").addEventListener("click", () => act("back"));
at("most").addEventListener("click", () => act({ line: null }));
at("line").addEventListener("change", () => {
  const line = Number(at("line").value);
  if (at("line").value !== "" && Number.isInteger(line) && line >= 0) act({ line });
});
document.addEventListener("keydown", (event) => {
  const typing = event.target instanceof HTMLInputElement && event.target.type === "text";
  if (!(event.ctrlKey || event.metaKey) || event.altKey || typing) return;
  const key = event.key.toLowerCase();
  const deed = key === "z" && !event.shiftKey ? "undo" : key === "y" || key === "z" ? "redo" : null;
  if (!deed) return;
  event.preventDefault();
  act(deed);
});
at("keep").addEventListener("submit", async (event) => {
  event.preventDefault();
  try {
    const reply = await ask("save", { tab, name: at("name").value });
    at("kept").textContent = `Saved as ${reply.saved}`;
  } catch (error) {
    at("kept").textContent = error.message;
  }
});
open()
  .catch((error) => say(error.message))
  .finally(() => {
    setBusy(false);
    pump();
  });
