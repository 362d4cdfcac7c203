"use strict";
// Everything that people do: choose, filter, find, move, print.

const byId = (id) => document.getElementById(id);
const keys = byId("keys");
let view = "plan";
const current = () => (view === "plan" ? plan : space);
const say = (text) => { byId("said").textContent = text; };

async function redraw() {
  if (view === "plan") await plan.draw();
  else await space.draw();
  document.body.dataset.drawn = String(Number(document.body.dataset.drawn || 0) + 1);
}
let waiting = null;
/** Draw once for all that has changed; a second wish waits for the first drawing. */
function draw() {
  waiting = (waiting || Promise.resolve()).then(redraw);
  return waiting;
}
function fly(places) {
  return draw().then(() => current().fly(places));
}
function choose(items, { fly: go = true, tab = "about" } = {}) {
  chosen.items = items.slice(0, 1);
  showAbout(items);
  openTab(tab);
  if (items.length) document.body.classList.add("panel-open");
  else document.body.classList.remove("panel-open");
  say(!items.length ? "" : items[0].sort === "finding" ? `Finding ${items[0].i + 1}` : `${TITLES[items[0].sort]} ${markOf(items[0])}`);
  return go && items.length && placesOf(items[0]).length ? fly(placesOf(items[0])) : draw();
}
function openTab(name) {
  for (const tab of ["about", "findings", "days"]) {
    byId(tab).hidden = tab !== name;
    byId(`tab-${tab}`).setAttribute("aria-selected", String(tab === name));
    byId(`tab-${tab}`).tabIndex = tab === name ? 0 : -1;
  }
}
async function show(name) {
  if (name === "space" && !space.possible()) {
    say("This browser shows no 3D here: it offers no WebGL.");
    return;
  }
  view = name;
  byId("plan").hidden = name !== "plan";
  byId("space").hidden = name !== "space";
  byId("scale").hidden = name !== "plan";
  filters();
  describe();
  byId("to-plan").setAttribute("aria-pressed", String(name === "plan"));
  byId("to-space").setAttribute("aria-pressed", String(name === "space"));
  await draw();
  Plotly.Plots.resize(name === "plan" ? planElement : spaceElement);
}

// Filters

function refilter() {
  select();
  showDays();
  describe();
  return draw();
}
function describe() {
  const all = job.splices.mark.length;
  byId("shown").textContent = shown.splice.length === all && shown.run.length === job.runs.mark.length
    ? "Everything chosen is shown." : `${shown.splice.length.toLocaleString("en")} of ${all.toLocaleString("en")} splices, ${shown.run.length.toLocaleString("en")} of ${job.runs.mark.length.toLocaleString("en")} runs.`;
}
/** A small picture of a marker, drawn like on the map. */
function swatch(name) {
  const shapes = {
    square: "M3 3H13V13H3Z", "triangle-down": "M2 3H14L8 14Z", "star-triangle-up": "M8 1L10 9L15 14L8 12L1 14L6 9Z",
    cross: "M6 2H10V6H14V10H10V14H6V10H2V6H6Z", "diamond-open": "M8 2L14 8L8 14L2 8Z", "circle-open": "M8 3A5 5 0 1 1 8 13A5 5 0 1 1 8 3Z",
    x: "M3 5L5 3L8 6L11 3L13 5L10 8L13 11L11 13L8 10L5 13L3 11L6 8Z", circle: "M8 3A5 5 0 1 1 8 13A5 5 0 1 1 8 3Z",
    "hexagon-open": "M8 1L14 4.5V11.5L8 15L2 11.5V4.5Z", "diamond-tall-open": "M8 0L13 8L8 16L3 8Z", "square-open": "M3 3H13V13H3Z",
    hourglass: "M3 2H13L3 14H13Z", diamond: "M8 1L15 8L8 15L1 8Z",
  };
  const look = LOOKS[name];
  const shape = look[view];
  const hollow = shape.endsWith("-open");
  const small = name === "splice:factory" ? "translate(8 8) scale(.7) translate(-8 -8)" : "";
  return drawing(16, 16, "path", { d: shapes[shape], transform: small, fill: hollow ? "none" : look.colour, stroke: hollow ? look.colour : INK, "stroke-width": hollow ? 2 : 1 });
}
function stroke(profile) {
  const { colour, dash, width } = lineOf(profile);
  const pattern = { solid: "", dash: "7 4", dot: "2 3", dashdot: "7 3 2 3", longdash: "11 4", longdashdot: "11 3 2 3" }[dash];
  return drawing(34, 12, "line", { x1: 1, y1: 6, x2: 33, y2: 6, stroke: colour, "stroke-width": width, "stroke-dasharray": pattern });
}
function drawing(width, height, tag, props) {
  const made = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  const inner = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries({ width, height, viewBox: `0 0 ${width} ${height}`, "aria-hidden": "true" })) made.setAttribute(name, value);
  for (const [name, value] of Object.entries(props)) if (value !== "") inner.setAttribute(name, value);
  made.append(inner);
  return made;
}
function kinds() {
  const rows = [];
  const count = (list, value) => list.reduce((sum, one) => sum + (one === value), 0);
  for (const [kind, name] of Object.entries(KINDS)) rows.push([`node:${kind}`, count(job.nodes.kind, kind), name]);
  for (const [made, name] of [["field", MADE.field], ["factory", MADE.factory]]) rows.push([`splice:${made}`, count(job.splices.made, made), name]);
  for (const [severity, name] of Object.entries(GRAVE)) rows.push([`finding:${severity}`, job.findings.filter((one) => one.severity === severity && one.at).length, name]);
  rows.push(["power", job.power.length, ["power point", "power points"]]);
  return rows.filter(([, number]) => number);
}
function kindBoxes(from) {
  return kinds().filter(([name]) => name.startsWith(from)).map(([name, number, text]) => {
    const box = el("input", { type: "checkbox", "data-kind": name, onchange: ({ target }) => {
      if (target.checked) wish.hidden.delete(name);
      else wish.hidden.add(name);
      refilter();
    } });
    box.checked = !wish.hidden.has(name);
    return el("label", { class: "kind" }, box, swatch(name), el("span", { text: counted(number, text) }));
  });
}
/** A list to choose one of; nothing where there is no choice. */
function choice(id, title, options, key, always = false) {
  if (options.length < 2 && !always) return null;
  const list = el("select", { id, onchange: ({ target }) => {
    wish[key] = target.value === "" ? null : Number(target.value);
    refilter();
  } }, el("option", { value: "", text: "all" }), ...options.map(([value, text]) => el("option", { value, text })));
  list.value = wish[key] === null ? "" : String(wish[key]);
  return el("label", { class: "choice" }, el("span", { text: title }), list);
}
function dayText(day) {
  const found = job.days.find((one) => one.day === day && one.date);
  return found ? `${day}, ${found.date}` : String(day);
}
function filters() {
  const days = [...new Set(job.days.map((one) => one.day))].sort((a, b) => a - b);
  const crews = [...new Set(job.days.map((one) => one.crew))].sort((a, b) => a - b);
  const step = (by) => () => {
    const place = wish.day === null ? (by > 0 ? 0 : days.length - 1) : days.indexOf(wish.day) + by;
    wish.day = days[Math.max(0, Math.min(days.length - 1, place))];
    byId("day").value = String(wish.day);
    refilter();
  };
  const upTo = el("input", { type: "checkbox", id: "up-to", onchange: ({ target }) => { wish.upTo = target.checked; refilter(); } });
  upTo.checked = wish.upTo;
  const dayRow = days.length ? el("div", { class: "day" }, choice("day", "Day", days.map((day) => [day, dayText(day)]), "day", true),
    el("button", { type: "button", text: "‹", "aria-label": "Day before", onclick: step(-1) }), el("button", { type: "button", text: "›", "aria-label": "Day after", onclick: step(1) })) : null;
  const profiles = job.profiles.map((profile, i) => el("li", {}, stroke(i), words(profile.name)));
  const times = el("select", { onchange: ({ target }) => { space.stretch = Number(target.value); draw(); } },
    ...[1, 2, 5, 10].map((many) => el("option", { value: many, text: many === 1 ? "true" : `× ${many}` })));
  times.value = String(space.stretch);
  const heights = el("label", { class: "choice", id: "heights" }, el("span", { text: "Heights" }), times);
  byId("filters").replaceChildren(...[
    el("h2", { text: "Shown" }),
    view === "space" ? heights : null,
    choice("profile", "Profile", job.profiles.map((profile, i) => [i, profile.name]), "profile"),
    choice("zone", job.zoneWord, job.zones.map((name, i) => [i, name]), "zone"),
    choice("crew", "Crew", crews.map((crew) => [crew, crew]), "crew"),
    dayRow, dayRow ? el("label", { class: "kind" }, upTo, el("span", { text: "and the days before" })) : null,
    el("p", { id: "shown" }),
    el("h3", { text: "Splices" }), ...kindBoxes("splice:"),
    el("h3", { text: "Nodes" }), ...kindBoxes("node:"),
    ...(job.findings.some((one) => one.at) ? [el("h3", { text: "Findings with a place" }), ...kindBoxes("finding:")] : []),
    ...(job.power.length ? [el("h3", { text: "Site" }), ...kindBoxes("power")] : []),
    el("h3", { text: "Strip" }), el("ul", { class: "strips" }, ...profiles),
    el("button", { type: "button", id: "reset", text: "Show everything", onclick: reset })].filter(Boolean));
}
function reset() {
  Object.assign(wish, { hidden: new Set(["finding:note", "power"]), profile: null, zone: null, crew: null, day: null, upTo: false });
  filters();
  refilter();
  current().whole();
}
function pickDay(day) {
  wish.day = day ? day.day : null;
  wish.crew = day && byId("crew") ? day.crew : null;
  byId("day").value = day ? String(day.day) : "";
  if (byId("crew")) byId("crew").value = wish.crew === null ? "" : String(wish.crew);
  refilter();
  const splices = day ? shown.splice.map((i) => placesOf({ sort: "splice", i })[0]) : [];
  if (splices.length) fly(splices);
}

// Find a mark

let hits = [];
let aim = 0;
function showHits() {
  const list = byId("hits");
  list.hidden = !hits.length && !byId("search").value.trim();
  byId("search").setAttribute("aria-expanded", String(!list.hidden));
  list.replaceChildren(...hits.map((hit, i) => el("li", { role: "option", id: `hit-${i}`, "aria-selected": String(i === aim), onpointerdown: (event) => { event.preventDefault(); take(i); } },
    el("strong", { text: hit.mark }), " ", el("span", { class: "faint" }, words(hit.what)))));
  if (!hits.length) list.replaceChildren(el("li", { class: "faint", text: "No such mark." }));
  byId("search").setAttribute("aria-activedescendant", hits.length ? `hit-${aim}` : "");
}
function take(i) {
  const hit = hits[i];
  if (!hit) return;
  byId("search").value = hit.mark;
  hits = [];
  byId("hits").hidden = true;
  byId("search").setAttribute("aria-expanded", "false");
  byId(view).focus();
  uncover(hit.item);
  choose([hit.item]);
}
/** What is searched for is shown, whatever was filtered away. */
function uncover(item) {
  if (["fitting", "finding"].includes(item.sort) || shown[item.sort].includes(item.i)) return;
  Object.assign(wish, { profile: null, zone: null, crew: null, day: null });
  const kind = item.sort === "node" ? job.nodes.kind[item.i] : item.sort === "splice" ? job.splices.made[item.i] : null;
  wish.hidden.delete(kind ? `${item.sort}:${kind}` : item.sort);
  filters();
  select();
  describe();
}
/** Go to the mark or the finding that the address names, as the links of the workbook do. */
function goNamed() {
  const name = window.location.hash.slice(1);
  const finding = Number(/^finding-(\d+)$/.exec(name)?.[1]) - 1;
  const hit = search(name).find((one) => one.mark === name);
  if (job.findings[finding]) goFinding(finding);
  else if (hit) { uncover(hit.item); choose([hit.item]); }
}
window.addEventListener("hashchange", goNamed);
byId("search").addEventListener("input", ({ target }) => { hits = search(target.value); aim = 0; showHits(); });
byId("search").addEventListener("blur", () => { byId("hits").hidden = true; });
byId("search").addEventListener("keydown", (event) => {
  if (event.key === "Enter") take(aim);
  else if (event.key === "Escape") { event.target.value = ""; hits = []; byId("hits").hidden = true; byId(view).focus(); }
  else if (event.key === "ArrowDown" || event.key === "ArrowUp") {
    aim = Math.max(0, Math.min(hits.length - 1, aim + (event.key === "ArrowDown" ? 1 : -1)));
    showHits();
  } else return;
  event.preventDefault();
});

// Pointer: a short press chooses, two fingers zoom; dragging and the wheel are the drawing library's.

const down = new Map();
let pressed = null;
let pinch = null;
const spanOf = () => {
  const [one, other] = [...down.values()];
  return Math.hypot(one.x - other.x, one.y - other.y) || 1;
};
byId("stage").addEventListener("pointerdown", (event) => {
  if (!event.target.closest(".view")) return;
  down.set(event.pointerId, { x: event.clientX, y: event.clientY });
  pressed = down.size === 1 ? { x: event.clientX, y: event.clientY, id: event.pointerId } : null;
  if (down.size === 2) pinch = { span: spanOf(), busy: false };
}, true);
window.addEventListener("pointermove", (event) => {
  if (!down.has(event.pointerId)) return;
  down.set(event.pointerId, { x: event.clientX, y: event.clientY });
  if (!pinch || down.size !== 2 || pinch.busy) return;
  const span = spanOf();
  const [one, other] = [...down.values()];
  const at = view === "plan" ? plan.at((one.x + other.x) / 2, (one.y + other.y) / 2) : null;
  pinch.busy = true;
  const factor = Math.max(0.5, Math.min(2, pinch.span / span));
  pinch.span = span;
  Promise.resolve(view === "plan" ? plan.zoom(factor, at && [at.x, at.y]) : space.zoom(factor)).then(() => { if (pinch) pinch.busy = false; });
}, true);
for (const name of ["pointerup", "pointercancel"]) {
  window.addEventListener(name, (event) => {
    if (!down.delete(event.pointerId)) return;
    if (down.size < 2) pinch = null;
    if (name === "pointercancel" || !pressed || pressed.id !== event.pointerId) return;
    const still = Math.hypot(event.clientX - pressed.x, event.clientY - pressed.y) < 6;
    pressed = null;
    if (still && view === "plan") tap(event);
  }, true);
}
// While two fingers are down, the drawing library must not take the first for a drag.
for (const name of ["touchmove", "touchstart"]) {
  byId("stage").addEventListener(name, (event) => {
    if (event.touches.length > 1 && event.target.closest(".view")) { event.stopPropagation(); event.preventDefault(); }
  }, { capture: true, passive: false });
}
function tap(event) {
  const found = plan.pick(event.clientX, event.clientY, event.pointerType === "touch" ? 24 : 12);
  if (found.length || chosen.items.length) choose(found.slice(0, 13), { fly: false });
}

// Keys

const PAN = { ArrowLeft: [-0.15, 0], ArrowRight: [0.15, 0], ArrowUp: [0, 0.15], ArrowDown: [0, -0.15] };
let last = -1;
const KEYS = [
  ["/", "find a mark"], ["P, 3", "plan, 3D view"], ["arrows", "move the plan; turn the 3D view"], ["+ −", "nearer, farther"],
  ["0", "the whole job"], ["N, B", "next finding, finding before"], ["Esc", "choose nothing"], ["?", "this list"],
];
document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || keys.open) return;
  if (event.target.closest("input, select, textarea")) return;
  const step = PAN[event.key];
  const onMap = event.target === document.body || event.target.closest("#stage");
  if (step && onMap) {
    if (view === "plan") plan.pan(...step);
    else space.turn(step[0] * -1.2, step[1] * 0.8);
  } else if (event.key === "/") byId("search").focus();
  else if (event.key === "+" || event.key === "=") current().zoom(0.7);
  else if (event.key === "-") current().zoom(1 / 0.7);
  else if (event.key === "0") current().whole();
  else if (event.key === "p") show("plan");
  else if (event.key === "3") show("space");
  else if (event.key === "n" || event.key === "b") walk(event.key === "n" ? 1 : -1);
  else if (event.key === "Escape") choose([]);
  else if (event.key === "?") showKeys();
  else return;
  event.preventDefault();
});
function walk(by) {
  if (!job.findings.length) return;
  last = (last + by + job.findings.length) % job.findings.length;
  goFinding(last);
  const row = document.querySelector(`[data-finding="${last}"]`);
  if (row) row.scrollIntoView({ block: "nearest" });
}
function showKeys() {
  const rows = KEYS.map(([key, does]) => [el("kbd", { text: key }), does]);
  keys.replaceChildren(el("h2", { text: "Keys and gestures" }), table(["Key", "Does"], rows),
    el("p", { text: "Drag to move the plan or turn the 3D view, wheel or two fingers to zoom; press a node, splice or run to see what it is." }),
    el("button", { type: "button", text: "Close", onclick: () => keys.close() }));
  keys.showModal();
}

// Print: what is shown, on one sheet.

let before = null;
function fitPaper() {
  if (paper) return;
  const { sheet, ...size } = job.units.imperial ? { width: 966, height: 572, sheet: 744 } : { width: 1032, height: 552, sheet: 720 };
  document.body.style.setProperty("--paper", `${size.height}px`);
  document.body.style.setProperty("--sheet", `${sheet}px`);
  if (view === "space") {
    paper = { clientWidth: size.width, clientHeight: size.height };
    Plotly.relayout(spaceElement, { ...size, autosize: false });
    return;
  }
  before = plan.ranges();
  const [[west, east], [south, north]] = before;
  const whole = west <= box[0][0] && east >= box[0][1] && south <= box[1][0] && north >= box[1][1];
  paper = { clientWidth: size.width, clientHeight: size.height };
  Plotly.relayout(planElement, { ...size, autosize: false });
  plan.move(whole ? plan.everything() : plan.around([(west + east) / 2, (south + north) / 2], east - west, north - south));
  plan.label();
  showScale();
}
function fitScreen() {
  if (!paper) return;
  paper = null;
  const found = view === "plan" ? planElement : spaceElement;
  Plotly.relayout(found, { autosize: true, width: null, height: null })
    .then(() => Plotly.Plots.resize(found))
    .then(() => view === "plan" && before && plan.move(before));
}
window.addEventListener("beforeprint", fitPaper);
window.addEventListener("afterprint", fitScreen);
byId("print").addEventListener("click", () => window.print());

function foot() {
  byId("legend").replaceChildren(
    ...kinds().filter(([name]) => name !== "power" && name !== "finding:note").map(([name, , [one]]) => el("span", { class: "key" }, swatch(name), el("span", { text: one }))),
    ...job.profiles.slice(0, LINES.length).map((profile, i) => el("span", { class: "key" }, stroke(i), words(profile.name))));
  const telling = job.findings.filter((one) => one.severity !== "note");
  const some = telling.slice(0, 4).map((one) => `${GRAVE[one.severity][0]}: ${one.message.slice(0, 160)}${one.message.length > 160 ? "…" : ""}`);
  byId("printed-findings").replaceChildren(words(telling.length ? `Open: ${some.join("  •  ")}${telling.length > 4 ? `  •  and ${telling.length - 4} more` : ""}` : "No open findings."));
  byId("cautions").replaceChildren(words(job.cautions.join(" ")));
  const drawings = job.drawings.map(([file, , sha]) => `${file} (SHA-256 ${sha.slice(0, 12)}…)`).slice(0, 6).join(", ");
  byId("drawings").replaceChildren(words(`${drawings}${job.drawings.length > 6 ? ` and ${job.drawings.length - 6} more` : ""}`));
}

async function start() {
  byId("job").replaceChildren(words(job.job));
  byId("short").replaceChildren(...job.short.map(([name, value]) => el("div", {}, el("dt", { text: name }), el("dd", { text: value }))));
  filters();
  showAbout([]);
  showFindings();
  showDays();
  foot();
  describe();
  openTab("about");
  for (const tab of ["about", "findings", "days"]) {
    byId(`tab-${tab}`).addEventListener("click", () => { openTab(tab); document.body.classList.add("panel-open"); });
  }
  byId("tabs").addEventListener("keydown", (event) => {
    const order = ["about", "findings", "days"];
    const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (!step) return;
    const next = order[(order.findIndex((tab) => !byId(tab).hidden) + step + order.length) % order.length];
    openTab(next);
    byId(`tab-${next}`).focus();
    event.stopPropagation();
  });
  byId("to-plan").addEventListener("click", () => show("plan"));
  byId("to-space").addEventListener("click", () => show("space"));
  byId("nearer").addEventListener("click", () => current().zoom(0.7));
  byId("farther").addEventListener("click", () => current().zoom(1 / 0.7));
  byId("whole").addEventListener("click", () => current().whole());
  byId("sift").addEventListener("click", ({ target }) => {
    target.setAttribute("aria-pressed", String(document.body.classList.toggle("sifting")));
  });
  byId("help").addEventListener("click", showKeys);
  await plan.start();
  // On small screens the panel takes room from the map, which then must fit what is left.
  new ResizeObserver(() => paper || Plotly.Plots.resize(view === "plan" ? planElement : spaceElement)).observe(byId("stage"));
  document.body.dataset.ready = "yes";
  goNamed();
}
start();
