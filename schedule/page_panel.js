"use strict";
// What stands beside the map: details of what is chosen, findings, days. All words go in as text, never as markup.

function el(tag, props = {}, ...inside) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(props)) {
    if (name === "text") made.textContent = value;
    else if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
    else made.setAttribute(name, value);
  }
  made.append(...inside.filter((one) => one !== null && one !== undefined));
  return made;
}
/** Foreign words, kept from turning the line around them. */
const words = (text) => el("bdi", { text });

/** A button that leads to an item. */
function link(item, text = markOf(item)) {
  return el("button", { type: "button", class: "link", text, onclick: () => choose([item]) });
}
function links(items, most = 40) {
  const line = el("span", { class: "links" }, ...items.slice(0, most).map((item) => link(item)));
  if (items.length > most) line.append(el("span", { class: "faint", text: `and ${(items.length - most).toLocaleString("en")} more` }));
  return line;
}
function facts(rows) {
  const list = el("dl", { class: "facts" });
  for (const [name, value] of rows) {
    if (value === "" || value === null || value === undefined) continue;
    list.append(el("dt", { text: name }), el("dd", {}, typeof value === "string" ? words(value) : value));
  }
  return list;
}
function table(heads, rows) {
  const head = el("tr", {}, ...heads.map((text) => el("th", { scope: "col", text })));
  const body = rows.map((row) => el("tr", {}, ...row.map((value) => el("td", {}, typeof value === "object" ? value : words(String(value))))));
  return el("div", { class: "wide" }, el("table", {}, el("thead", {}, head), el("tbody", {}, ...body)));
}
function part(title, ...inside) {
  return el("section", {}, el("h3", { text: title }), ...inside);
}
const named = (profile) => [job.profiles[profile].name, job.profiles[profile].size].filter(Boolean).join(", ");
const degrees = (turn) => (turn ? `${turn.toFixed(1).replace(/\.0$/, "")}°` : "");

function drawnAs(sources) {
  if (!sources.length) return null;
  const rows = sources.slice(0, 6).map(([layer, entity]) => {
    const [file, name] = job.layers[layer];
    return el("li", {}, words(entity), " on ", words(name), ...(job.drawings.length > 1 ? [" in ", words(file)] : []));
  });
  if (sources.length > 6) rows.push(el("li", { class: "faint", text: `and ${sources.length - 6} more` }));
  return part("Drawn as", el("ul", {}, ...rows));
}
function cutTable(mark) {
  const cuts = job.cuts[mark];
  if (!cuts) return null;
  const heads = ["Cut", "Piece", "Shape", "Miter", "Bevel", "In all"];
  return part("Saw cuts", table(heads, cuts.slice(0, 60)), el("p", { class: "faint", text: "Settings from square, strip flat on the table against the fence." }));
}
function spliceTable(splices, title = "Splices") {
  if (!splices.length) return null;
  const rows = splices.slice(0, 60).map((i) => {
    const day = job.splices.day[i];
    return [link({ sort: "splice", i }), MADE[job.splices.made[i]][0].replace(" splice", ""), SPLICES[job.splices.kind[i]] || job.splices.kind[i], day === null ? "" : `day ${day}`];
  });
  const more = splices.length > 60 ? el("p", { class: "faint", text: `and ${splices.length - 60} more` }) : null;
  return part(`${title} (${splices.length})`, table(["Mark", "Made", "How", "When"], rows), more);
}
function picture(fitting) {
  if (!fitting.picture) return null;
  // As a picture, a drawing can neither run anything nor fetch anything.
  const url = `data:image/svg+xml;charset=utf-8,${encodeURIComponent(fitting.picture)}`;
  const image = el("img", { src: url, alt: `Shop drawing of fitting ${fitting.mark}` });
  return el("button", { type: "button", class: "picture", "aria-label": `Shop drawing of ${fitting.mark}, larger`, onclick: () => enlarge(url, fitting.mark) }, image);
}
function enlarge(url, mark) {
  const close = el("button", { type: "button", text: "Close", onclick: () => keys.close() });
  keys.replaceChildren(el("h2", { text: `Fitting ${mark}` }), el("img", { src: url, alt: `Shop drawing of fitting ${mark}`, class: "large" }), close);
  keys.showModal();
}

const about = {
  node(i) {
    const list = job.nodes;
    const served = list.fitting[i];
    const fitting = served && job.fittings[served[0]];
    const rows = [
      ["What", KINDS[list.kind[i]][0] + (list.lies[i] === "none" ? "" : `, ${list.lies[i]}`)],
      ["Turn", degrees(list.turn[i])],
      ["Profile", list.profiles[i].map(named).join("; ")],
      ["Place", placeText(placesOf({ sort: "node", i })[0])],
      ["Part of", list.where[i]],
      ["Runs", links(list.runs[i].map((run) => ({ sort: "run", i: run })))],
      ["Fitting", fitting ? el("span", {}, link({ sort: "fitting", i: served[0] }), ` copy ${served[1] + 1} of ${fitting.copies.length}`) : ""],
    ];
    const made = fitting ? [part(`Fitting ${fitting.mark}`, picture(fitting), facts(fittingFacts(fitting)))] : [];
    return [facts(rows), ...made, cutTable(fitting ? fitting.mark : list.mark[i]), spliceTable(splicesOfNode[i], "Splices here"), drawnAs(list.sources[i])];
  },
  splice(i) {
    const list = job.splices;
    const day = job.days.find((one) => one.day === list.day[i] && one.crew === list.crew[i]);
    const rows = [
      ["Made", MADE[list.made[i]][0].replace("splice", "").trim() === "site" ? "on site" : "in the shop"],
      ["How", SPLICES[list.kind[i]] || list.kind[i]],
      ["Why here", job.reasons[list.reason[i]]],
      ["Profile", named(list.profile[i])],
      ["Lies", { floor: "on the floor", wall: "in a wall", overhead: "overhead" }[list.lies[i]] || list.lies[i]],
      ["When", list.day[i] === null ? "" : `day ${list.day[i]}${day && day.date ? `, ${day.date}` : ""}`],
      ["Crew", list.crew[i] === null ? "" : String(list.crew[i])],
      [job.zoneWord, list.zone[i] === null ? "" : job.zones[list.zone[i]]],
      ["Time", list.minutes[i] === null ? "" : `${list.minutes[i]} min`],
      ["Run", list.run[i] === null ? "" : link({ sort: "run", i: list.run[i] })],
      ["Node", list.node[i] === null ? "" : link({ sort: "node", i: list.node[i] })],
      ["Fitting", list.fitting[i] === null ? "" : link({ sort: "fitting", i: list.fitting[i] })],
      ["Place", placeText(placesOf({ sort: "splice", i })[0])],
    ];
    const criteria = job.criteria.map(([text, limit]) => el("li", {}, words(`${text}: ${limit}`)));
    return [facts(rows), el("details", {}, el("summary", { text: "Reject it for" }), el("ul", {}, ...criteria))];
  },
  run(i) {
    const list = job.runs;
    const rows = [
      ["Length", list.length[i]],
      ["Profile", named(list.profile[i])],
      ["Joint", list.joint[i] || "kind not given"],
      ["From", el("span", {}, link({ sort: "node", i: list.ends[i][0] }), " to ", link({ sort: "node", i: list.ends[i][1] }))],
      ["Part of", list.where[i]],
    ];
    const pieces = list.pieces[i];
    const cut = pieces.length ? part("Pieces from rolls", table(["Piece", "Roll", "Length", "Place"], pieces)) : null;
    return [facts(rows), cut, spliceTable([...splicesOfRun[i]]), drawnAs(list.sources[i])];
  },
  fitting(i) {
    const fitting = job.fittings[i];
    const places = fitting.copies.map((copy, number) => ({ copy, number }));
    const rows = places.slice(0, 60).map(({ copy, number }) => [String(number + 1), links(copy.map((node) => ({ sort: "node", i: node })))]);
    const more = places.length > 60 ? el("p", { class: "faint", text: `and ${places.length - 60} more, all ringed on the map` }) : null;
    return [picture(fitting), facts(fittingFacts(fitting)), cutTable(fitting.mark), part("Goes to", table(["Copy", "Nodes"], rows), more)];
  },
  finding(i) {
    const finding = job.findings[i];
    return [
      el("p", { class: `severity ${finding.severity}`, text: GRAVE[finding.severity][0] }), el("p", {}, words(finding.message)),
      facts([["Code", finding.code], ["Place", finding.at ? placeText(finding.at) : "no single place"]]), drawnAs(finding.sources),
    ];
  },
  power(i) {
    const [, , , , splices, far] = job.power[i];
    return [facts([["What", "power point for the irons"], ["Serves", splices], ["Longest lead", far], ["Place", placeText(placesOf({ sort: "power", i })[0])]])];
  },
};
function fittingFacts(fitting) {
  return [
    ["Holds", fitting.holds], ["Turns", fitting.lies === "none" ? "" : fitting.lies], ["Turn", degrees(fitting.turn)],
    ["To make", String(fitting.copies.length)], ["Legs", fitting.legs.join(", ")], ["Strip in one", fitting.strip],
    ["Seams in one", String(fitting.seams)], ["Mass of one", fitting.mass], ["Profile", fitting.profiles.map(named).join("; ")],
  ];
}
const TITLES = { node: "Node", splice: "Splice", run: "Run", fitting: "Fitting", finding: "Finding", power: "Power point" };

function showAbout(items) {
  const pane = document.getElementById("about");
  if (!items.length) {
    pane.replaceChildren(overview());
    return;
  }
  const [first, ...others] = items;
  const title = first.sort === "finding" ? `Finding ${first.i + 1}` : `${TITLES[first.sort]} ${markOf(first)}`;
  const also = others.length ? el("p", { class: "also" }, "Also here: ", links(others, 12)) : null;
  const again = el("div", { class: "again" },
    el("button", { type: "button", text: "Show on map", onclick: () => fly(placesOf(first)) }),
    el("button", { type: "button", text: "Close", onclick: () => choose([]) }));
  pane.replaceChildren(el("h2", {}, words(title)), ...(also ? [also] : []), ...about[first.sort](first.i).filter(Boolean), again);
  pane.scrollTop = 0;
}
function overview() {
  const profiles = job.profiles.map((profile) => el("li", {}, words([profile.name, profile.size].filter(Boolean).join(", "))));
  const drawings = job.drawings.map(([file, unit, sha]) => el("li", {}, words(file), `, unit ${unit}, SHA-256 ${sha.slice(0, 16)}…`));
  return el("div", {},
    el("h2", { text: "The job" }),
    el("p", { text: "Choose a node, a splice or a run on the map, or find its mark above." }),
    part("Profiles", el("ul", {}, ...profiles)),
    part("Fittings", links(job.fittings.map((_, i) => ({ sort: "fitting", i })), 80)),
    part("Drawings", el("ul", {}, ...drawings)),
    part("Cautions", el("ul", {}, ...job.cautions.map((text) => el("li", {}, words(text))))));
}

/** The findings, worst first; more of them are listed on demand. */
function showFindings(most = 200) {
  const pane = document.getElementById("findings");
  const count = { error: 0, warning: 0, note: 0 };
  for (const finding of job.findings) count[finding.severity] += 1;
  const head = el("p", { class: "counts", text: Object.entries(count).map(([name, number]) => counted(number, GRAVE[name])).join(", ") });
  const rows = job.findings.slice(0, most).map((finding, i) => {
    const body = [el("span", { class: `severity ${finding.severity}`, text: GRAVE[finding.severity][0] }), words(finding.message)];
    if (!finding.at) body.push(el("span", { class: "faint", text: "no single place" }));
    return el("li", {}, el("button", { type: "button", class: "row", "data-finding": i, onclick: () => goFinding(i) }, ...body));
  });
  const more = job.findings.length > most
    ? el("button", { type: "button", text: `Show ${Math.min(500, job.findings.length - most)} more of ${job.findings.length.toLocaleString("en")}`, onclick: () => showFindings(most + 500) }) : null;
  pane.replaceChildren(el("h2", { text: "Findings" }), head, el("ol", { class: "rows" }, ...rows), ...(more ? [more] : []));
}
function goFinding(i) {
  for (const row of document.querySelectorAll("[data-finding]")) row.toggleAttribute("aria-current", Number(row.dataset.finding) === i);
  const name = `finding:${job.findings[i].severity}`;
  if (job.findings[i].at && wish.hidden.delete(name)) {
    const box = document.querySelector(`[data-kind="${name}"]`);
    if (box) box.checked = true;
    select();
  }
  choose([{ sort: "finding", i }], { tab: "findings" });
}

function showDays() {
  const pane = document.getElementById("days");
  const rows = job.days.slice(0, 1500).map((one) => {
    const on = wish.day === one.day && (wish.crew === null || wish.crew === one.crew);
    const title = `Day ${one.day}${one.date ? `, ${one.date}` : ""}, crew ${one.crew}`;
    const text = `${counted(one.splices, ["splice", "splices"])}: ${one.marks}`;
    const zones = one.zones.length ? el("span", { class: "faint" }, words(one.zones.join(", "))) : null;
    return el("li", {}, el("button", { type: "button", class: "row", "aria-pressed": String(on), onclick: () => pickDay(on ? null : one) },
      el("strong", { text: title }), el("span", { text }), zones, el("span", { class: "faint", text: `${one.people} people, ${one.minutes} min at work` })));
  });
  pane.replaceChildren(el("h2", { text: "Days" }), el("p", { text: rows.length ? "Choose a day to see only its splices." : "No splices are made on site." }), el("ol", { class: "rows" }, ...rows));
}
