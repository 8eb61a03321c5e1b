"use strict";
// Shows what the walk shows and sends what is tapped. It decides nothing: no word here says which answer is wanted.

const $ = (id) => document.getElementById(id);
const SVG = "http://www.w3.org/2000/svg";
// how old, in milliseconds, the last sign of life may be, and how far apart a second tap comes
const OLD = 1500, ARMED_FROM = 400, ARMED_TO = 5000, TRACE = 10000;
const SHAPES = {
  unknown: ["M24 4 44 24 24 44 4 24z", "M18 20a6 6 0 1 1 8 5q-2 1-2 4M24 34v1"],
  dead: ["M6 6h36v36H6z", "M14 24h20"],
  test: ["M24 4a20 20 0 1 1-.01 0z", "M10 24h7l4-10 6 20 4-10h7"],
  live: ["M24 5 45 42H3z", "M26 15l-7 13h9l-6 11"],
};

let state = null, live = null, trace = [], typed = "", unit = "", armed = null, sending = false;
// the least delay seen: the server's time as this page would read it
let offset = Infinity, beat = -Infinity, wall = Date.now(), source = null, paired = true, pairing = 0;

function put(id, text) {
  const at = $(id);
  const words = text || "";
  if (at.textContent !== words) at.textContent = words;
  at.hidden = words === "";
}
function make(name, text, of) {
  const made = document.createElement(name);
  if (text) made.textContent = text;
  Object.assign(made, of || {});
  return made;
}
function list(id, texts) {
  $(id).replaceChildren(...texts.map((text) => make("li", text)));
  $(id).hidden = texts.length === 0;
}

/* time: an event is as old as the server's time in it says, whenever it came */
function heard(now) {
  offset = Math.min(offset, performance.now() - now);
  beat = Math.max(beat, now);
}
// what is not known to be new is as old as can be
const age = (now) => (Number.isFinite(offset) && Number.isFinite(now) ? performance.now() - offset - now : Infinity);
function watch() {
  const gap = Date.now() - wall;
  wall = Date.now();
  // a machine that slept: nothing counts before a new sign of life
  if (gap > OLD || gap < -OLD) { beat = -Infinity; offset = Infinity; live = null; }
  const old = age(beat) > OLD;
  if (old) disarm();
  if ($("old").hidden === old) $("old").hidden = !old;
  $("main").inert = old || !$("danger").hidden;
  if (!paired) put("old-text", pairing === 410 ? "This address was used or has run out. The terminal shows a new one now: open that." : "This browser is not known. Open the address that the terminal shows last; each opens one browser.");
  else put("old-text", "What this page showed is not known to be so now. Look at the terminal.");
  $("old-word").textContent = paired ? "OLD" : "CLOSED";
  showLive();
}

/* the circuit */
function showCircuit(circuit) {
  const words = circuit.word.split(" ");
  $("circuit").dataset.kind = circuit.kind;
  $("word-1").textContent = words[0];
  $("word-2").textContent = words.slice(1).join(" ");
  $("shape-line").setAttribute("d", SHAPES[circuit.kind][0]);
  $("shape-mark").setAttribute("d", SHAPES[circuit.kind][1]);
  const time = circuit.at && new Date(circuit.at).toLocaleTimeString("en-GB");
  const at = { unknown: "it may be live", dead: "shown dead here at " + time, test: "keep off the cores until they are discharged", live: "keep your hands away" };
  $("when").textContent = at[circuit.kind];
  document.title = circuit.word + " - coreproof";
}

/* the two ends, and the points */
function draw(prompt) {
  const probes = prompt ? prompt.probes : [];
  $("points").replaceChildren(...probes.map((probe, i) => {
    const item = make("li");
    item.append(make("b", String(i + 1)), make("span", probe.words));
    return item;
  }));
  $("points").hidden = probes.length === 0;
  $("drawing").toggleAttribute("hidden", probes.length === 0);
  const add = (name, of, text) => {
    const made = document.createElementNS(SVG, name);
    for (const key in of) made.setAttribute(key, of[key]);
    if (text) made.textContent = text;
    return made;
  };
  const parts = [
    add("rect", { x: 6, y: 30, width: 150, height: 82, rx: 4 }), add("rect", { x: 244, y: 30, width: 150, height: 82, rx: 4 }),
    add("line", { x1: 156, y1: 71, x2: 244, y2: 71 }),
    add("text", { x: 81, y: 20 }, short(state.near, 19)), add("text", { x: 319, y: 20 }, short(state.far, 19)),
  ];
  const place = { near: 81, far: 319 };
  const alone = probes.length === 2 && probes[0].end !== probes[1].end;
  probes.forEach((probe, i) => {
    const centre = place[probe.end] || 200, x = centre + (alone ? 0 : i ? 38 : -38);
    const spot = i ? add("rect", { x: x - 15, y: 42, width: 30, height: 30, class: "spot" }) : add("circle", { cx: x, cy: 57, r: 16, class: "spot" });
    const what = probe.words.replace(/ at the .*$/, "").replace(/^the /, "");
    // two at one end stand under each other, so that neither is cut short
    const name = add("text", { x: centre, y: alone ? 98 : 90 + i * 17 }, probe.end ? (alone ? short(what, 16) : i + 1 + " " + short(what, 14)) : "");
    parts.push(spot, add("text", { x, y: 63, class: "spot-text" }, String(i + 1)), name);
  });
  $("drawing").replaceChildren(...parts);
}
const short = (text, most) => (text.length > most ? text.slice(0, most - 1) + "\u2026" : text);

/* the window: edges and needle, and nothing of either side */
function showBar(bar) {
  $("bar").hidden = !bar;
  $("track").replaceChildren();
  if (!bar) return;
  for (const edge of [bar.low, bar.high]) {
    if (!edge) continue;
    const mark = make("i", "", { className: edge.included ? "" : "open" }), text = make("span", edge.amount);
    mark.style.left = text.style.left = edge.place * 100 + "%";
    $("track").append(mark, text);
  }
}
function showLive() {
  const prompt = state && state.prompt;
  const reads = prompt && prompt.typed === "reading";
  const fresh = live && prompt && live.prompt === prompt.number && age(live.read) <= state.fresh_ms;
  const text = fresh ? live.digits : typed ? typed + " " + unit : "";
  const cut = text.match(/^([<>]?-?[0-9.,]+|[<>]?[A-Z]+)\s*(.*)$/);
  $("reading").hidden = !reads;
  const number = cut ? cut[1] : text || "\u2013";
  put("number", number);
  $("number").style.setProperty("--signs", Math.max(4, number.length));
  put("unit", cut ? cut[2] : " ");
  put("moves", fresh ? "live, not taken: " + live.state : reads && prompt.from_meter ? "nothing from the meter now" : typed ? "typed, not taken" : reads ? "type the reading" : "");
  const needle = fresh && live.place !== null;
  $("needle").style.visibility = needle ? "visible" : "hidden";
  if (needle) $("needle").style.left = live.place * 100 + "%";
  const now = performance.now();
  trace = trace.filter((point) => now - point[0] < TRACE);
  $("trace").style.visibility = trace.length > 1 ? "visible" : "hidden";
  $("trace").firstElementChild.setAttribute("points", trace.map(([t, y]) => (200 - ((now - t) / TRACE) * 200).toFixed(1) + "," + (38 - y * 36).toFixed(1)).join(" "));
}

/* answers */
async function sent(path, headers, body) {
  try {
    return (await fetch(path, { method: "POST", headers, body })).status;
  } catch (error) { return 0; }
}
const post = (path, body) => sent(path, { "content-type": "application/json" }, JSON.stringify(body));
const WHY = {
  0: "It was not heard: the link is down.", 401: "This browser is not known.", 403: "Not taken: that is said at the laptop.", 408: "Not taken: it came too slowly. Send it again.", 409: "Not taken: something else is asked now. Read it again.",
  410: "Not taken: it is over.", 413: "Not taken: the picture is too large.", 415: "Not taken: only a JPEG or PNG picture is.", 422: "Not taken: that is no answer here.", 423: "Not taken: another page answers.", 429: "Not taken: another picture is on its way.", 503: "Not taken: the program does not answer now.",
  507: "Not taken: the laptop cannot keep the picture. Free its disk, or name a file at the terminal.",
};
async function send(say) {
  if (sending || !state.prompt) return;
  sending = true;
  disarm();
  const status = await post("/answer", { prompt: state.prompt.number, say });
  if (status !== 202) { sending = false; tell(WHY[status] || "Not taken (" + status + ")."); }
  else setTimeout(() => { sending = false; }, 1500);
}
/* a picture: the server names it; a voltage and every other answer can be said meanwhile */
async function picture() {
  const file = $("file").files[0], prompt = state.prompt;
  if (!file || !prompt) return;
  const said = (text) => { if (state.prompt && state.prompt.number === prompt.number) put("picture-said", text); };
  if (file.size > state.picture_bytes_max) said("It is larger than " + Math.floor(state.picture_bytes_max / 1048576) + " MB: set the camera to a smaller picture.");
  else {
    said("On its way\u2026");
    const status = await sent("/photograph", { "content-type": file.type, "coreproof-prompt": prompt.number }, file);
    said(status === 202 ? "" : WHY[status] || "Not taken (" + status + ").");
  }
  // the same picture can be chosen again
  $("file").value = "";
}
const tell = (text) => $("notes").append(make("li", text));
function disarm() {
  if (!armed) return;
  armed.button.classList.remove("armed");
  armed.button.firstChild.textContent = armed.word;
  armed = null;
}
/* a plain answer is one tap; any other is two, apart from each other */
function tap(button, weight, say) {
  button.addEventListener("click", () => {
    if (weight === "plain") return send(say());
    const now = performance.now();
    if (armed && armed.button === button) {
      if (now - armed.at < ARMED_FROM) return;
      return send(say());
    }
    disarm();
    const word = button.firstChild.textContent;
    armed = { button, word, at: now };
    button.classList.add("armed");
    button.firstChild.textContent = "Tap again: " + word;
    setTimeout(() => { if (armed && armed.button === button && armed.at === now) disarm(); }, ARMED_TO);
  });
}
function choiceButton(choice, i) {
  const button = make("button", "", { type: "button" });
  button.append(document.createTextNode(choice.word));
  const means = [choice.means, choice.weight === "laptop_only" ? (state.at_laptop ? "at this laptop" : "say it at the laptop") : ""].filter(Boolean).join("; ");
  if (means) button.append(make("small", means));
  button.dataset.word = choice.word;
  if (choice.weight === "laptop_only" && !state.at_laptop) button.dataset.elsewhere = "";
  if (state.prompt.several && choice.word !== "none") {
    button.setAttribute("aria-pressed", "false");
    button.dataset.at = i;
    button.addEventListener("click", () => button.setAttribute("aria-pressed", String(button.getAttribute("aria-pressed") !== "true")));
  } else tap(button, choice.weight, () => ({ choice: i }));
  return button;
}
function showAnswers(prompt) {
  const choices = prompt ? prompt.choices.map((choice, i) => [choice, choiceButton(choice, i)]) : [];
  $("choices").replaceChildren(...choices.filter(([choice]) => !choice.refuses).map(([, button]) => button));
  $("apart").replaceChildren(...choices.filter(([choice]) => choice.refuses).map(([, button]) => button));
  if (prompt && prompt.several) {
    const moved = make("button", "That moved", { type: "button" });
    tap(moved, "second_tap", () => ({ choices: [...$("choices").querySelectorAll("[aria-pressed=true]")].map((one) => Number(one.dataset.at)) }));
    $("choices").append(moved);
  }
  put("free", prompt && prompt.typed !== "reading" && !prompt.photograph ? prompt.free : "");
  $("pad").hidden = !(prompt && prompt.typed === "reading");
  $("picture").hidden = !(prompt && prompt.photograph);
  put("picture-said", "");
  $("text").hidden = !(prompt && (prompt.typed === "text" || prompt.typed === "found"));
  $("voltage").hidden = !prompt || prompt.typed === "text";
  $("beside").hidden = !prompt;
  $("length").hidden = !prompt || prompt.typed === "text";
  if (!prompt) return;
  $("units").replaceChildren(...prompt.units.map((name) => {
    const button = make("button", name, { type: "button" });
    button.setAttribute("aria-pressed", String(name === unit));
    button.addEventListener("click", () => { unit = name; pad(); });
    return button;
  }));
  $("chips").replaceChildren(...prompt.reasons.map((reason) => {
    const chip = make("button", reason, { type: "button" });
    chip.addEventListener("click", () => { $("line").value = reason; });
    return chip;
  }));
}
function pad() {
  $("typed").textContent = typed ? typed + " " + (typed === "OL" ? "" : unit) : "type the reading";
  for (const button of $("units").children) button.setAttribute("aria-pressed", String(button.textContent === unit));
  $("take").disabled = !typed;
  showLive();
}
function key(sign) {
  if (sign === "\u232b") typed = typed === "OL" ? "" : typed.slice(0, -1);
  else if (sign === "OL") typed = "OL";
  else if (typed !== "OL" && typed.length < 9) typed += sign;
  pad();
}

function show(next) {
  const before = state && state.prompt && state.prompt.number;
  state = next;
  const prompt = state.prompt;
  const asksAnew = !prompt || prompt.number !== before;
  showCircuit(state.circuit);
  put("along", prompt ? [prompt.place[0] ? prompt.place[0] + " of " + prompt.place[1] : "", prompt.stage, prompt.step].filter(Boolean).join(" \u00b7 ") : state.title);
  put("act", prompt ? prompt.say : state.finished ? state.finished[0] + ": " + state.finished[1] : state.title);
  list("todo", prompt ? prompt.todo.concat(prompt.hands) : []);
  list("together", prompt ? prompt.together.map((one) => one[1]) : []);
  put("stand", prompt && prompt.stand ? "stand " + prompt.stand : "");
  list("cautions", prompt ? prompt.cautions : []);
  list("sources", prompt ? prompt.sources : []);
  $("more").hidden = !prompt || prompt.sources.length === 0;
  draw(prompt);
  put("instrument", prompt ? prompt.instrument : "");
  put("window", prompt && prompt.window ? "passes: " + prompt.window : "");
  showBar(prompt && prompt.bar);
  const last = state.last;
  $("last").replaceChildren();
  if (last) {
    $("last").append(make("strong", [last.display ? "taken " + last.display : "", last.outcome].filter(Boolean).join(" \u2192 ")));
    $("last").append(" " + last.step + (last.because ? ": " + last.because : ""));
    for (const line of last.beside) $("last").append(make("p", line));
  }
  list("notes", state.notes);
  put("closing", state.closing ? state.closing.join("\n") : "");
  if (asksAnew) { typed = ""; unit = prompt && prompt.units[0] || ""; live = null; trace = []; $("line").value = ""; disarm(); showAnswers(prompt); pad(); scrollTo(0, 0); }
  sending = false;
  $("danger").hidden = !state.danger;
  put("danger-text", state.danger ? state.danger[1] : " ");
  $("here").hidden = state.answers || !prompt;
  put("here-text", state.answers ? "" : "Device " + state.answering + " answers; this is device " + state.device + ". What was proved dead there is not shown here.");
  for (const button of $("answers").querySelectorAll("button")) if (button.id !== "take") button.disabled = !state.answers || "elsewhere" in button.dataset;
  $("file").disabled = !state.answers;
  $("picture").classList.toggle("off", !state.answers);
  watch();
}

function listen() {
  source = new EventSource("/events");
  const on = (name, then) => source.addEventListener(name, (event) => {
    const data = JSON.parse(event.data);
    heard(data.now);
    paired = true;
    then(data);
  });
  on("state", show);
  on("live", (data) => {
    if (!state || !state.prompt || data.prompt !== state.prompt.number || live && data.read < live.read) return;
    live = data;
    if (data.place !== null) trace.push([performance.now() - Math.max(0, age(data.read)), data.place]);
    showLive();
  });
  on("beat", watch);
  // what was measured on a link that is gone counts no more
  source.onopen = () => { offset = Infinity; beat = -Infinity; live = null; };
  source.onerror = () => {
    if (source.readyState !== 2) return;
    source.close();
    fetch("/events").then((answer) => { paired = answer.status !== 401; if (answer.body) answer.body.cancel(); }, () => {}).finally(() => { watch(); setTimeout(listen, 1000); });
  };
}

async function begin() {
  for (const sign of ["1", "2", "3", "4", "5", "6", "7", "8", "9", ".", "0", ">", "OL", "-", "\u232b"]) {
    const button = make("button", sign, { type: "button" });
    if (sign === "\u232b") button.setAttribute("aria-label", "delete the last sign");
    button.addEventListener("click", () => key(sign));
    $("keys").append(button);
  }
  $("take").addEventListener("click", () => { if (typed) send({ reading: typed === "OL" ? "OL" : typed + " " + unit }); });
  $("file").addEventListener("change", picture);
  tap($("say"), "second_tap", () => ({ text: $("line").value }));
  tap($("back"), "second_tap", () => "back");
  tap($("was-lit"), "second_tap", () => "was_lit");
  tap($("length"), "second_tap", () => "length");
  tap($("voltage"), "plain", () => "voltage");
  $("danger-seen").addEventListener("click", () => post("/seen", { danger: state.danger[0] }));
  $("here-button").addEventListener("click", () => post("/here", {}));
  // a clicker says only what is plain: that the probes are on the points
  addEventListener("keydown", (event) => {
    const on = [...$("choices").children].find((one) => one.dataset.word === "on");
    if (!["PageDown", "ArrowRight"].includes(event.key) || !on || event.target.id === "line") return;
    event.preventDefault();
    if (!event.repeat && !$("main").inert) on.click();
  });
  setInterval(watch, 200);
  document.addEventListener("visibilitychange", watch);
  const code = location.hash.slice(1);
  if (code) {
    history.replaceState(null, "", "/");
    pairing = await post("/pair", { code });
  }
  listen();
}
begin();
