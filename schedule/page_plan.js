"use strict";
// What the figures are drawn with, and the plan.

// Shape tells kinds apart, and so does how light a colour is: both hold in grey print and for the colour-blind. The
// hues are those of Okabe and Ito (Color Universal Design, 2008).
const INK = "#16202c";
const LOOKS = {
  "node:corner": { plan: "square", space: "square", colour: "#0072B2", size: 11 },
  "node:tee": { plan: "triangle-down", space: "diamond", colour: "#009E73", size: 13 },
  "node:wye": { plan: "star-triangle-up", space: "diamond-open", colour: "#009E73", size: 13 },
  "node:cross": { plan: "cross", space: "cross", colour: "#CC79A7", size: 13 },
  "node:closure": { plan: "diamond-open", space: "square-open", colour: INK, size: 12 },
  "node:end": { plan: "circle-open", space: "circle-open", colour: INK, size: 11 },
  "node:other": { plan: "x", space: "x", colour: INK, size: 11 },
  "splice:factory": { plan: "circle", space: "circle", colour: "#ffffff", size: 6 },
  "splice:field": { plan: "circle", space: "circle", colour: "#E69F00", size: 9 },
  "finding:error": { plan: "hexagon-open", space: "diamond-open", colour: "#C2410C", size: 24, line: 3.5 },
  "finding:warning": { plan: "diamond-tall-open", space: "diamond-open", colour: "#8A5A00", size: 24, line: 2.5 },
  "finding:note": { plan: "square-open", space: "square-open", colour: "#64748b", size: 18, line: 1.5 },
  power: { plan: "hourglass", space: "x", colour: "#56B4E9", size: 15 },
};
const LINES = [
  { colour: "#33475e", dash: "solid", width: 3.2 },
  { colour: "#8a4b08", dash: "dash", width: 3.2 },
  { colour: "#0f766e", dash: "dot", width: 3.6 },
  { colour: "#7c3a6b", dash: "dashdot", width: 3.2 },
  { colour: "#1d4ed8", dash: "longdash", width: 2.4 },
  { colour: "#64748b", dash: "longdashdot", width: 2.4 },
];
/** Profiles from here on share the last line. */
const lineOf = (profile) => LINES[Math.min(profile, LINES.length - 1)];

/** In a large job the plan's marks are drawn by the graphics card; in others, as shapes that print sharply. */
const many = job.many;
const MOST_LABELS = 140;

/** What a hover box says: its words must not be read as markup. */
const safe = (text) => text.replace(/&/g, "&amp;").replace(/</g, "&lt;").replace(/>/g, "&gt;");

/** Courses of runs one after the other with gaps between, as one set of arrays. */
function courses(runs) {
  const line = [[], [], []];
  for (const i of runs) {
    job.runs.points[i].forEach((values, axis) => {
      for (const value of values) line[axis].push(value);
      line[axis].push(null);
    });
  }
  return line;
}

function groups() {
  const found = new Map(Object.keys(LOOKS).map((name) => [name, []]));
  for (const i of shown.node) found.get(`node:${job.nodes.kind[i]}`).push({ sort: "node", i });
  for (const i of shown.splice) found.get(`splice:${job.splices.made[i]}`).push({ sort: "splice", i });
  for (const i of shown.finding) found.get(`finding:${job.findings[i].severity}`).push({ sort: "finding", i });
  for (const i of shown.power) found.get("power").push({ sort: "power", i });
  return found;
}

function markerOf(name, view) {
  const look = LOOKS[name];
  const hollow = look[view].endsWith("-open");
  return {
    symbol: look[view], color: look.colour, opacity: 1,
    size: view === "plan" ? look.size * (many ? 0.8 : 1) : name === "splice:factory" ? 2.5 : look.size * 0.7,
    line: { color: hollow ? look.colour : INK, width: look.line || (hollow ? 2.2 : 1.1) },
  };
}

/** Traces of one view: a few, each with many items, never one for each item. */
function traces(view) {
  const flat = view === "plan";
  const type = flat ? "scatter" : "scatter3d";
  const made = [];
  const add = (columns, rest) => {
    const [x, y, z] = columns;
    made.push({ type, x, y, ...(flat ? {} : { z }), showlegend: false, hoverinfo: "skip", ...rest });
  };
  const lit = chosen.items.filter((item) => item.sort === "run").map((item) => item.i);
  add(courses(lit), { mode: "lines", line: { color: "#F0E442", width: flat ? 13 : 12 }, connectgaps: false });
  const fits = new Set(shown.run);
  add(courses(positions(job.runs.mark).filter((i) => !fits.has(i))), { mode: "lines", line: { color: "#c9d1da", width: 1.6 } });
  LINES.forEach((line, number) => {
    const runs = shown.run.filter((i) => lineOf(job.runs.profile[i]) === line);
    const dash = flat ? line.dash : "solid"; // in 3D the library's dashes are too long to tell where a strip goes
    const items = flat ? null : runs.flatMap((i) => [...job.runs.points[i][0].map(() => `run:${i}`), ""]);
    const hover = flat ? {} : { customdata: items, hoverinfo: "text", text: items.map((id) => (id ? job.runs.mark[+id.slice(4)] : "")) };
    add(courses(runs), { mode: "lines", line: { color: line.colour, dash, width: line.width * (flat ? 1 : 1.6) }, name: `line ${number}`, ...hover });
  });
  for (const [name, items] of groups()) {
    const places = items.map((item) => placesOf(item)[0]);
    add([0, 1, 2].map((axis) => places.map((place) => place[axis])), {
      type: flat && many && space.possible() ? "scattergl" : type, mode: "markers", marker: markerOf(name, view), name, customdata: items.map((item) => `${item.sort}:${item.i}`),
      hoverinfo: "text", text: items.map((item) => safe(markOf(item))),
    });
  }
  const ringed = chosen.items.filter((item) => item.sort !== "run").flatMap(placesOf);
  add([0, 1, 2].map((axis) => ringed.map((place) => place[axis])), {
    mode: "markers", name: "chosen", marker: { symbol: "circle-open", color: "#111111", size: flat ? 30 : 15, line: { color: "#111111", width: 4 } },
  });
  return made;
}

/** What is chosen: the items that are ringed or lit. */
const chosen = { items: [] };
const planElement = document.getElementById("plan");
const spaceElement = document.getElementById("space");
const CONFIG = { displayModeBar: false, scrollZoom: true, doubleClick: false, responsive: true, displaylogo: false, showTips: false };
const MARGIN = { l: 56, r: 10, t: 10, b: 60 };
const calm = window.matchMedia("(prefers-reduced-motion: reduce)").matches;

let paper = null;
/** Width and height of the plan's field, on the screen or, while printing, on paper. */
function planSize() {
  const { clientWidth, clientHeight } = paper || planElement;
  return [Math.max(50, clientWidth - MARGIN.l - MARGIN.r), Math.max(50, clientHeight - MARGIN.t - MARGIN.b)];
}

const plan = {
  /** Ranges that show a place and so much around it, at equal scale on both axes. */
  around([x, y], width, height) {
    const [across, up] = planSize();
    const scale = Math.max(width / across, height / up);
    return [[x - (scale * across) / 2, x + (scale * across) / 2], [y - (scale * up) / 2, y + (scale * up) / 2]];
  },
  everything() {
    const [[west, east], [south, north]] = box;
    const most = Math.max(east - west, north - south, 1e-3);
    return this.around([(west + east) / 2, (south + north) / 2], (east - west + most * 0.02) * 1.1, (north - south + most * 0.02) * 1.1);
  },
  axis(title, axis) {
    const origin = Math.round((job.units.originM[axis] / job.units.stepM) * job.units.longPerStep * 100) / 100;
    return {
      title: { text: `${title}${origin ? ` ${origin < 0 ? "+" : "−"} ${Math.abs(origin).toLocaleString("en")}` : ""} [${job.units.long}]`, font: { size: 12 }, standoff: 6 },
      gridcolor: "#e6eaef", zerolinecolor: "#d3dae2", tickfont: { size: 11 }, tickformat: ",~r", separatethousands: true, ticks: "outside",
      tickcolor: "#c9d1da", automargin: false, nticks: 12, showline: true, linecolor: "#c9d1da", mirror: true,
    };
  },
  layout(ranges) {
    return {
      margin: MARGIN, dragmode: "pan", hovermode: "closest", hoverdistance: 14, uirevision: "plan", showlegend: false,
      paper_bgcolor: "#ffffff", plot_bgcolor: "#ffffff", font: { family: "system-ui, sans-serif", color: INK },
      hoverlabel: { font: { size: 13 }, bgcolor: "#ffffff", bordercolor: INK },
      xaxis: { ...this.axis("x", 0), range: ranges[0] },
      yaxis: { ...this.axis("y", 1), range: ranges[1], scaleanchor: "x", scaleratio: 1 },
    };
  },
  ranges() {
    const { xaxis, yaxis } = planElement.layout;
    return [[...xaxis.range], [...yaxis.range]];
  },
  async start() {
    await Plotly.newPlot(planElement, [...traces("plan"), this.labels(this.everything())], this.layout(this.everything()), CONFIG);
    planElement.on("plotly_relayout", () => this.settle());
    this.settle();
  },
  draw() {
    return Plotly.react(planElement, [...traces("plan"), this.labels(this.ranges())], this.layout(this.ranges()), CONFIG);
  },
  move(ranges) {
    return Plotly.relayout(planElement, { "xaxis.range": ranges[0], "yaxis.range": ranges[1] });
  },
  zoom(factor, at = null) {
    const ranges = this.ranges();
    const about = at || ranges.map(([low, high]) => (low + high) / 2);
    return this.move(ranges.map(([low, high], axis) => [about[axis] + (low - about[axis]) * factor, about[axis] + (high - about[axis]) * factor]));
  },
  pan(right, up) {
    return this.move(this.ranges().map(([low, high], axis) => {
      const step = (high - low) * (axis ? up : right);
      return [low + step, high + step];
    }));
  },
  whole() {
    return this.move(this.everything());
  },
  /** Go to a place, in a few steps where the job is small enough to follow them. */
  async fly(places) {
    if (!places.length) return;
    const low = [0, 1].map((axis) => Math.min(...places.map((place) => place[axis])));
    const high = [0, 1].map((axis) => Math.max(...places.map((place) => place[axis])));
    const least = Math.max(4 / (job.units.stepM / job.units.longPerStep) , Math.max(box[0][1] - box[0][0], box[1][1] - box[1][0]) * 0.04);
    const goal = this.around([(low[0] + high[0]) / 2, (low[1] + high[1]) / 2], Math.max(least, (high[0] - low[0]) * 1.4), Math.max(least, (high[1] - low[1]) * 1.4));
    const from = this.ranges();
    const steps = many || calm ? 1 : 9;
    for (let step = 1; step <= steps; step += 1) {
      const share = 1 - (1 - step / steps) ** 3;
      await this.move(from.map((range, axis) => range.map((value, side) => value + (goal[axis][side] - value) * share)));
    }
  },
  /** After a move: the scale, and labels for what is in sight. */
  settle() {
    clearTimeout(this.later);
    showScale();
    this.later = setTimeout(() => this.label(), 120);
  },
  label() {
    const { x, y, text } = this.labels(this.ranges());
    return Plotly.restyle(planElement, { x: [x], y: [y], text: [text] }, [planElement.data.length - 1]);
  },
  /** Marks that find room beside their places: nodes before site splices before runs before shop splices. */
  labels([[west, east], [south, north]]) {
    const [across, up] = planSize();
    const perX = across / (east - west);
    const perY = up / (north - south);
    const taken = new Set();
    const found = { x: [], y: [], text: [] };
    // A space in front keeps a mark clear of its symbol.
    const put = (place, mark, room = "\u2002") => {
      if (!place || found.text.length >= MOST_LABELS) return;
      const px = (place[0] - west) * perX;
      const py = (north - place[1]) * perY;
      if (px < 0 || py < 0 || px > across || py > up) return;
      const width = mark.length * 7.4 + 12;
      const cells = [];
      for (let column = Math.floor((px + 5) / 12); column <= Math.floor((px + 5 + width) / 12); column += 1) {
        for (const row of [Math.floor((py - 16) / 14), Math.floor((py - 4) / 14)]) cells.push(`${column}:${row}`);
      }
      if (cells.some((cell) => taken.has(cell))) return;
      cells.forEach((cell) => taken.add(cell));
      found.x.push(place[0]);
      found.y.push(place[1]);
      found.text.push(`${room}${safe(mark)}`);
    };
    const wide = Math.max(east - west, north - south);
    const all = Math.max(box[0][1] - box[0][0], box[1][1] - box[1][0]);
    const close = job.nodes.mark.length < 60 || wide < all * 0.5;
    for (const item of chosen.items) put(item.sort === "run" ? middleOf(item.i) : placesOf(item)[0], markOf(item), "\u2003\u2002");
    if (close || wide < all * 0.8) for (const i of shown.node) put([job.nodes.x[i], job.nodes.y[i]], job.nodes.mark[i]);
    if (close) {
      for (const i of shown.splice) if (job.splices.made[i] === "field") put([job.splices.x[i], job.splices.y[i]], job.splices.mark[i]);
      for (const i of shown.run) put(middleOf(i), job.runs.mark[i]);
      for (const i of shown.splice) if (job.splices.made[i] !== "field") put([job.splices.x[i], job.splices.y[i]], job.splices.mark[i]);
    }
    return { type: "scatter", mode: "text", textposition: "top right", textfont: { size: 12, color: INK }, hoverinfo: "skip", showlegend: false, name: "marks", ...found };
  },
  /** Where on the map a point of the screen is. */
  at(clientX, clientY) {
    const frame = planElement.getBoundingClientRect();
    const [across, up] = planSize();
    const [[west, east], [south, north]] = this.ranges();
    const px = clientX - frame.left - MARGIN.l;
    const py = clientY - frame.top - MARGIN.t;
    if (px < 0 || py < 0 || px > across || py > up) return null;
    return { x: west + (px / across) * (east - west), y: north - (py / up) * (north - south), scale: (east - west) / across };
  },
  /** All that is shown within reach of a point of the screen, nearest first, points before runs. */
  pick(clientX, clientY, reach) {
    const at = this.at(clientX, clientY);
    if (!at) return [];
    const far = reach * at.scale;
    const hits = [];
    for (const sort of ["node", "splice", "finding", "power"]) {
      for (const i of shown[sort]) {
        const [x, y] = placesOf({ sort, i })[0];
        const away = Math.hypot(x - at.x, y - at.y);
        if (away <= (sort === "finding" ? far * 1.4 : far)) hits.push({ sort, i, away: sort === "finding" ? away + far * 0.5 : away });
      }
    }
    for (const i of shown.run) {
      const away = awayFrom(job.runs.points[i], at);
      if (away <= far * 0.7) hits.push({ sort: "run", i, away: away + far * 2 });
    }
    return hits.sort((one, other) => one.away - other.away);
  },
};

/** Distance in plan from a point to a course. */
function awayFrom([x, y], at) {
  let least = Infinity;
  for (let k = 1; k < x.length; k += 1) {
    const dx = x[k] - x[k - 1];
    const dy = y[k] - y[k - 1];
    const long = dx * dx + dy * dy;
    const share = long ? Math.max(0, Math.min(1, ((at.x - x[k - 1]) * dx + (at.y - y[k - 1]) * dy) / long)) : 0;
    least = Math.min(least, Math.hypot(x[k - 1] + dx * share - at.x, y[k - 1] + dy * share - at.y));
  }
  return least;
}

function showScale() {
  const [across] = planSize();
  const [[west, east]] = plan.ranges();
  const perUnit = across / (east - west);
  const raw = 150 / perUnit;
  const power = 10 ** Math.floor(Math.log10(raw));
  const nice = [5, 2, 1].map((step) => step * power).find((step) => step <= raw) || power;
  document.getElementById("scale-bar").style.width = `${nice * perUnit}px`;
  document.getElementById("scale-text").textContent = `${Number(nice.toPrecision(2)).toLocaleString("en")} ${job.units.long}`;
}
