"use strict";
// The job as it was scheduled, unpacked; what is chosen; and what of it is shown. Nothing here touches the page.

const KINDS = {
  end: ["end", "ends"], corner: ["corner", "corners"], tee: ["tee", "tees"], wye: ["wye", "wyes"],
  cross: ["cross", "crosses"], closure: ["ring closure", "ring closures"], other: ["other node", "other nodes"],
};
const MADE = { field: ["site splice", "site splices"], factory: ["shop splice", "shop splices"] };
const GRAVE = { error: ["error", "errors"], warning: ["warning", "warnings"], note: ["note", "notes"] };
const SPLICES = {
  seam: "mitred seam", leg: "butt, leg to strip", "leg to leg": "butt, leg to leg", piece: "butt, strip to strip",
  closure: "butt, closes a ring", transition: "butt, change of profile or lay",
};

const job = JSON.parse(document.getElementById("data").textContent);

/** Turn whole steps into the unit of long lengths, so that the figures need no arithmetic of their own. */
function unpack() {
  const unit = job.units.longPerStep;
  for (const list of [job.nodes, job.splices]) {
    for (const axis of ["x", "y", "z"]) list[axis] = list[axis].map((steps) => steps * unit);
  }
  job.runs.points = job.runs.points.map((steps) => {
    const line = [[], [], []];
    const at = [0, 0, 0];
    for (let i = 0; i < steps.length; i += 3) {
      for (let axis = 0; axis < 3; axis += 1) {
        at[axis] += steps[i + axis];
        line[axis].push(at[axis] * unit);
      }
    }
    return line;
  });
  for (const finding of job.findings) finding.at = finding.at && finding.at.map((steps) => steps * unit);
  job.power = job.power.map(([mark, x, y, z, ...rest]) => [mark, x * unit, y * unit, z * unit, ...rest]);
}
unpack();

/** The box around everything, in the unit of long lengths: [[x, x], [y, y], [z, z]]. */
const box = (() => {
  const found = [[Infinity, -Infinity], [Infinity, -Infinity], [Infinity, -Infinity]];
  const take = (axis, value) => {
    if (value < found[axis][0]) found[axis][0] = value;
    if (value > found[axis][1]) found[axis][1] = value;
  };
  for (const line of job.runs.points) line.forEach((values, axis) => values.forEach((value) => take(axis, value)));
  ["x", "y", "z"].forEach((name, axis) => job.nodes[name].forEach((value) => take(axis, value)));
  return found.map(([low, high]) => (low <= high ? [low, high] : [0, 1]));
})();

/** For every run the splices on it, and for every node the splices at it. */
const splicesOfRun = job.runs.mark.map(() => []);
const splicesOfNode = job.nodes.mark.map(() => []);
const daysOfRun = job.runs.mark.map(() => new Set());
const zonesOfRun = job.runs.mark.map(() => new Set());
function distance(list, i, other, j) {
  return Math.hypot(list.x[i] - other.x[j], list.y[i] - other.y[j], list.z[i] - other.z[j]);
}
job.splices.mark.forEach((_, i) => {
  const run = job.splices.run[i];
  const node = job.splices.node[i];
  const runs = run !== null ? [run] : node !== null ? job.nodes.runs[node] : [];
  if (run !== null) splicesOfRun[run].push(i);
  if (node !== null) splicesOfNode[node].push(i);
  else if (run !== null && job.splices.kind[i].startsWith("leg")) {
    const [start, end] = job.runs.ends[run];
    const near = distance(job.splices, i, job.nodes, start) <= distance(job.splices, i, job.nodes, end) ? start : end;
    splicesOfNode[near].push(i);
  }
  for (const one of runs) {
    if (job.splices.day[i] !== null) daysOfRun[one].add(job.splices.day[i]);
    if (job.splices.zone[i] !== null) zonesOfRun[one].add(job.splices.zone[i]);
  }
});

/** What is chosen to be shown; `hidden` holds kinds such as "node:tee" or "splice:field". */
const wish = {
  hidden: new Set(["finding:note", "power"]), profile: null, zone: null, crew: null, day: null, upTo: false,
};

function dayFits(day) {
  if (wish.day === null) return true;
  return day !== null && (wish.upTo ? day <= wish.day : day === wish.day);
}
function runFits(i) {
  if (wish.profile !== null && job.runs.profile[i] !== wish.profile) return false;
  if (wish.zone !== null && !zonesOfRun[i].has(wish.zone)) return false;
  return wish.day === null || [...daysOfRun[i]].some(dayFits);
}
function nodeFits(i) {
  if (wish.hidden.has(`node:${job.nodes.kind[i]}`)) return false;
  if (wish.profile !== null && !job.nodes.profiles[i].includes(wish.profile)) return false;
  return (wish.zone === null && wish.day === null) || job.nodes.runs[i].some(runFits);
}
function spliceFits(i) {
  const list = job.splices;
  if (wish.hidden.has(`splice:${list.made[i]}`)) return false;
  if (wish.profile !== null && list.profile[i] !== wish.profile) return false;
  if (wish.zone !== null && list.zone[i] !== wish.zone) return false;
  if (wish.crew !== null && list.crew[i] !== wish.crew) return false;
  return dayFits(list.day[i]);
}
function findingFits(i) {
  const finding = job.findings[i];
  return finding.at !== null && !wish.hidden.has(`finding:${finding.severity}`);
}

const positions = (list) => Array.from(list, (_, i) => i);
/** Positions of all that is shown, by sort; worked out anew when a wish changes. */
let shown = {};
function select() {
  shown = {
    run: positions(job.runs.mark).filter(runFits),
    node: positions(job.nodes.mark).filter(nodeFits),
    splice: positions(job.splices.mark).filter(spliceFits),
    finding: positions(job.findings).filter(findingFits),
    power: wish.hidden.has("power") ? [] : positions(job.power),
  };
}
select();

/** Places of an item: one for a point, several for a run or the copies of a fitting; [[x, y, z], ...]. */
function placesOf(item) {
  const at = (list, i) => [list.x[i], list.y[i], list.z[i]];
  if (item.sort === "node") return [at(job.nodes, item.i)];
  if (item.sort === "splice") return [at(job.splices, item.i)];
  if (item.sort === "finding") return job.findings[item.i].at ? [job.findings[item.i].at] : [];
  if (item.sort === "power") return [job.power[item.i].slice(1, 4)];
  if (item.sort === "fitting") return job.fittings[item.i].copies.flat().map((node) => at(job.nodes, node));
  const line = job.runs.points[item.i];
  return line[0].map((_, k) => [line[0][k], line[1][k], line[2][k]]);
}

/** The point half-way along a run, by length. */
function middleOf(run) {
  const [x, y, z] = job.runs.points[run];
  const far = [0];
  for (let k = 1; k < x.length; k += 1) far.push(far[k - 1] + Math.hypot(x[k] - x[k - 1], y[k] - y[k - 1], z[k] - z[k - 1]));
  const half = far[far.length - 1] / 2;
  let k = 1;
  while (k < x.length - 1 && far[k] < half) k += 1;
  const share = far[k] > far[k - 1] ? (half - far[k - 1]) / (far[k] - far[k - 1]) : 0;
  return [x, y, z].map((values) => values[k - 1] + (values[k] - values[k - 1]) * share);
}

function markOf(item) {
  if (item.sort === "finding") return `finding ${item.i + 1}`;
  if (item.sort === "power") return job.power[item.i][0];
  return item.sort === "fitting" ? job.fittings[item.i].mark : job[`${item.sort}s`].mark[item.i];
}

/** All marks that can be searched, in small letters, each with what it names. */
const index = (() => {
  const rows = [];
  const add = (mark, sort, i, what) => rows.push({ key: mark.toLowerCase(), mark, item: { sort, i }, what });
  job.fittings.forEach((fitting, i) => add(fitting.mark, "fitting", i, `fitting, ${fitting.copies.length} to make`));
  job.nodes.mark.forEach((mark, i) => add(mark, "node", i, KINDS[job.nodes.kind[i]][0]));
  job.splices.mark.forEach((mark, i) => add(mark, "splice", i, MADE[job.splices.made[i]][0]));
  job.runs.mark.forEach((mark, i) => {
    add(mark, "run", i, `run, ${job.runs.length[i]}`);
    for (const [piece, roll] of job.runs.pieces[i]) add(piece, "run", i, `piece in run ${mark}, from roll ${roll}`);
  });
  job.power.forEach(([mark], i) => add(mark, "power", i, "power point"));
  return rows;
})();

/** Find marks: the one that is meant first, then those that begin alike, then entities of the drawing. */
function search(text, most = 12) {
  const key = text.trim().toLowerCase();
  if (!key) return [];
  const hits = index.filter((row) => row.key === key);
  for (const row of index) {
    if (hits.length >= most) return hits;
    if (row.key !== key && row.key.startsWith(key)) hits.push(row);
  }
  for (const [i, sources] of job.runs.sources.entries()) {
    if (hits.length >= most) return hits;
    const source = sources.find(([, entity]) => entity.toLowerCase().includes(key));
    if (source) hits.push({ mark: job.runs.mark[i], item: { sort: "run", i }, what: `drawn as ${source[1]}` });
  }
  return hits;
}

function placeText([x, y, z]) {
  const units = job.units;
  const toMetres = units.stepM / units.longPerStep;
  return [x, y, z]
    .map((value, axis) => ((value * toMetres + units.originM[axis]) / units.placeM).toFixed(units.placeDecimals))
    .map((text) => (Number(text) === 0 ? text.replace("-", "") : text))
    .join(", ") + ` ${units.place}`;
}
function counted(number, [one, many]) {
  return `${number.toLocaleString("en")} ${number === 1 ? one : many}`;
}
