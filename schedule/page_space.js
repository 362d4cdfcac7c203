"use strict";
// The network in three dimensions.

const space = {
  started: false,
  stretch: 1,

  /** Whether the browser draws in three dimensions; asked once, since a browser grants few such canvases. */
  possible() {
    if (this.able === undefined) {
      const context = document.createElement("canvas").getContext("webgl");
      this.able = Boolean(context);
      const lose = context && context.getExtension("WEBGL_lose_context");
      if (lose) lose.loseContext();
    }
    return this.able;
  },
  ranges() {
    const most = Math.max(...box.map(([low, high]) => high - low), 1e-3);
    return box.map(([low, high]) => [low - most * 0.03, high + most * 0.03]);
  },
  /** Sides of the box as drawn: true to scale, heights stretched where that is asked for. */
  sides() {
    const long = this.ranges().map(([low, high]) => high - low);
    const most = Math.max(...long);
    return long.map((side, axis) => (side / most) * 1.9 * (axis === 2 ? this.stretch : 1));
  },
  axis(title, number) {
    return {
      title: { text: `${title} [${job.units.long}]`, font: { size: 12 } }, range: this.ranges()[number], autorange: false,
      gridcolor: "#dde3ea", zerolinecolor: "#c9d1da", showbackground: false, showspikes: false, tickfont: { size: 11 }, nticks: number === 2 ? 5 : 8, tickformat: ",~r",
    };
  },
  layout() {
    const [x, y, z] = this.sides();
    return {
      margin: { l: 0, r: 0, t: 0, b: 0 }, showlegend: false, hovermode: "closest", uirevision: "space", paper_bgcolor: "#ffffff",
      font: { family: "system-ui, sans-serif", color: INK }, hoverlabel: { font: { size: 13 }, bgcolor: "#ffffff", bordercolor: INK },
      scene: {
        xaxis: this.axis("x", 0), yaxis: this.axis("y", 1), zaxis: this.axis("z", 2), dragmode: "turntable",
        aspectmode: "manual", aspectratio: { x, y, z }, camera: this.camera || this.home(),
      },
    };
  },
  home() {
    return { eye: { x: -1.2, y: -2.2, z: 1.35 }, center: { x: 0, y: 0, z: -0.12 }, up: { x: 0, y: 0, z: 1 }, projection: { type: "perspective" } };
  },
  traces() {
    const made = traces("space");
    if (job.nodes.mark.length <= 80) {
      const at = (axis) => shown.node.map((i) => job.nodes[axis][i]);
      made.push({ type: "scatter3d", mode: "text", x: at("x"), y: at("y"), z: at("z"), text: shown.node.map((i) => job.nodes.mark[i]), textposition: "top right", textfont: { size: 11, color: INK }, hoverinfo: "skip", showlegend: false, name: "marks" });
    }
    return made;
  },
  async draw() {
    if (!this.started) {
      this.started = true;
      await Plotly.newPlot(spaceElement, this.traces(), this.layout(), CONFIG);
      spaceElement.on("plotly_click", ({ points }) => {
        const [sort, i] = String(points[0].customdata || "").split(":");
        if (i) choose([{ sort, i: Number(i) }], { fly: false });
      });
      spaceElement.on("plotly_relayout", () => { this.camera = this.seen(); });
      return;
    }
    this.camera = this.seen();
    await Plotly.react(spaceElement, this.traces(), this.layout(), CONFIG);
  },
  seen() {
    return spaceElement.layout.scene.camera || this.home();
  },
  look(camera) {
    this.camera = camera;
    return Plotly.relayout(spaceElement, { "scene.camera": camera });
  },
  zoom(factor) {
    const { eye, center, ...rest } = this.seen();
    const near = (axis) => center[axis] + (eye[axis] - center[axis]) * factor;
    return this.look({ ...rest, center, eye: { x: near("x"), y: near("y"), z: near("z") } });
  },
  /** Turn about the upright axis and tilt [radians]. */
  turn(about, tilt) {
    const { eye, center, ...rest } = this.seen();
    const [x, y, z] = ["x", "y", "z"].map((axis) => eye[axis] - center[axis]);
    const far = Math.hypot(x, y, z);
    const heading = Math.atan2(y, x) + about;
    const rise = Math.max(-1.5, Math.min(1.5, Math.asin(z / far) + tilt));
    const level = far * Math.cos(rise);
    return this.look({ ...rest, center, eye: { x: center.x + level * Math.cos(heading), y: center.y + level * Math.sin(heading), z: center.z + far * Math.sin(rise) } });
  },
  whole() {
    return this.look(this.home());
  },
  /** Put the places in the middle, near enough to see them. */
  fly(places) {
    if (!places.length) return undefined;
    const sides = this.sides();
    const ranges = this.ranges();
    const [x, y, z] = [0, 1, 2].map((axis) => {
      const values = places.map((place) => place[axis]);
      const middle = (Math.min(...values) + Math.max(...values)) / 2;
      const [low, high] = ranges[axis];
      return ((middle - (low + high) / 2) / (high - low)) * sides[axis];
    });
    const spread = Math.max(...[0, 1, 2].map((axis) => {
      const values = places.map((place) => place[axis]);
      return ((Math.max(...values) - Math.min(...values)) / (ranges[axis][1] - ranges[axis][0])) * sides[axis];
    }));
    const { eye, center, ...rest } = this.seen();
    const away = ["x", "y", "z"].map((axis) => eye[axis] - center[axis]);
    const scale = Math.max(0.45, spread * 1.5) / (Math.hypot(...away) || 1);
    return this.look({ ...rest, center: { x, y, z }, eye: { x: x + away[0] * scale, y: y + away[1] * scale, z: z + away[2] * scale } });
  },
};
