// The trace view: runs over each other, reduced by the server to the pixels
// that are there, asked for again when the view changes.
const TRACE_DASHES = ["solid", "dash", "dot", "dashdot", "longdash"];
const CLASS_INKS = { "blank": "#8a8a86", "negative control": "#4f9d8c", "positive control": "#b5532a" };

class TraceView {
  constructor(section) {
    this.section = section;
    this.address = section.dataset.traces;
    this.runs = section.dataset.runs.split(",").filter(Boolean);
    this.live = section.querySelector(".plot-live");
    this.cursor = section.querySelector("#cursor");
    this.window = null;
    this.asked = null;
    this.answered = 0;
    section.querySelector(".controls").addEventListener("change", () => this.show(null));
    for (const button of section.querySelectorAll("[data-view]")) {
      button.addEventListener("click", () => this.show(button.dataset.view === "measure" ? "measure" : null));
    }
    this.cursor.addEventListener("input", () => this.readOut());
    document.addEventListener("recolour", () => this.draw());
    document.addEventListener("change", (event) => {
      if (event.target.name === "run") this.ticked();
    });
  }

  setting(name) {
    return this.section.querySelector(`input[name="${name}"]:checked`)?.value;
  }

  ticked() {
    this.runs = [...document.querySelectorAll('input[name="run"]:checked')].map((box) => box.value);
    this.ask().catch((fault) => this.fail(fault));
  }

  show(view) {
    this.window = null;
    this.wanted = view;
    this.ask().catch((fault) => this.fail(fault));
  }

  fail(fault) {
    if (fault.name !== "AbortError") console.warn("traces:", fault.message);
  }

  async ask() {
    this.asked?.abort();
    this.asked = new AbortController();
    const query = new URLSearchParams({ runs: this.runs.join(","), columns: String(Math.max(200, this.live.clientWidth || 800)) });
    if (this.setting("align") === "measure") query.set("align", "measure");
    if (this.setting("pressure") === "rise") query.set("rise", "1");
    if (this.window) { query.set("from", this.window[0]); query.set("to", this.window[1]); }
    const started = performance.now();
    const response = await fetch(`${this.address}?${query}`, { signal: this.asked.signal });
    if (!response.ok) return;
    this.answer = await response.json();
    if (this.wanted === "measure") {
      const span = this.answer.runs[0]?.stages.findLast((stage) => stage.stage === "measure");
      this.wanted = null;
      if (span) {
        const margin = 0.03 * (span.end_s - span.start_s);
        this.window = [span.start_s - margin, span.end_s + margin];
        return this.ask();
      }
    }
    await this.draw();
    this.section.dataset.answeredMs = String(Math.round(performance.now() - started));
    this.section.dataset.drawn = String(++this.answered);
  }

  async draw() {
    if (!this.answer) return;
    const kind = this.setting("pressure");
    const data = this.answer.runs.map((run, index) => ({
      type: "scatter", mode: "lines", name: run.label.replace(/[&<>]/g, " "),
      x: run.times_s, y: run.pressures_pa,
      line: { color: CLASS_INKS[run.class], width: 1.6, dash: TRACE_DASHES[index % TRACE_DASHES.length] },
      hovertemplate: "%{x:.3~f} s, %{y:.4~g} Pa<extra>%{fullData.name}</extra>",
    }));
    const stages = this.answer.runs[0]?.stages ?? [];
    const layout = {
      showlegend: data.length <= 12, hovermode: "closest", dragmode: "zoom",
      legend: { orientation: "h", x: 0, y: 1.02, yanchor: "bottom" },
      xaxis: { title: { text: this.setting("align") === "measure" ? "Time since measure began (s)" : "Time (s)" } },
      yaxis: {
        title: { text: kind === "rise" ? "Rise since measure began (Pa)" : "Chamber pressure (Pa)" },
        type: kind === "log" ? "log" : "linear",
      },
      shapes: stages.map((stage, index) => ({
        type: "rect", xref: "x", yref: "paper", x0: stage.start_s, x1: stage.end_s, y0: 0, y1: 1,
        layer: "below", line: { width: 0 },
        fillcolor: index % 2 ? "rgba(138,138,134,0.16)" : "rgba(138,138,134,0.05)",
      })),
      annotations: stages.map((stage) => ({
        xref: "x", x: (stage.start_s + stage.end_s) / 2, yref: "paper", y: 1, yanchor: "top",
        text: stage.stage, showarrow: false, font: { size: 12 },
      })),
    };
    if (this.window) {
      layout.xaxis.range = this.window;
      const within = this.answer.runs.flatMap((run) => run.pressures_pa.filter((_, i) =>
        run.times_s[i] >= this.window[0] && run.times_s[i] <= this.window[1]));
      if (within.length && kind !== "log") {
        const low = Math.min(...within), high = Math.max(...within), margin = 0.06 * (high - low || 1);
        layout.yaxis.range = [low - margin, high + margin];
      }
      // A mark of a stage outside the view must not widen it.
      layout.annotations = layout.annotations.filter((mark) => mark.x >= this.window[0] && mark.x <= this.window[1]);
    } else if (data.length) {
      const ends = this.answer.runs.flatMap((run) => [run.times_s[0], run.times_s.at(-1)]).filter(Number.isFinite);
      if (ends.length) layout.xaxis.range = [Math.min(...ends), Math.max(...ends)];
    }
    this.live.hidden = false;
    this.section.querySelector("figure").classList.add("is-live");
    await drawPlot(this.live, data, layout);
    this.watch();
    this.readOut();
  }

  watch() {
    if (this.watched) return;
    this.watched = true;
    this.live.on("plotly_relayout", (change) => {
      const from = change["xaxis.range[0]"], to = change["xaxis.range[1]"];
      if (Number.isFinite(from) && Number.isFinite(to)) {
        this.window = [from, to];
      } else if (change["xaxis.autorange"] || "xaxis.range" in change || change.autosize === undefined && !("yaxis.range[0]" in change)) {
        this.window = null;
      } else {
        return;
      }
      clearTimeout(this.later);
      this.later = setTimeout(() => this.ask().catch((fault) => this.fail(fault)), 40);
    });
    this.live.on("plotly_doubleclick", () => { this.show(null); });
  }

  // The pressure of every run at one time, for eyes and for screen readers.
  readOut() {
    if (!this.answer) return;
    const range = this.live.layout?.xaxis?.range ?? [0, 1];
    const time = Number(range[0]) + (Number(range[1]) - Number(range[0])) * (this.cursor.value / 1000);
    this.section.querySelector("output").textContent = `${time.toPrecision(4)} s`;
    this.cursor.setAttribute("aria-valuetext", `${time.toPrecision(4)} seconds`);
    const body = this.section.querySelector(".readout-table tbody");
    body.replaceChildren(...this.answer.runs.slice(0, 40).map((run) => {
      const row = document.createElement("tr");
      const head = document.createElement("th");
      head.scope = "row";
      head.textContent = run.label;
      const cells = [at(run, time), run.rise_pa].map((value) => {
        const cell = document.createElement("td");
        cell.className = "num";
        cell.textContent = value === null || value === undefined ? "none" : written(value);
        return cell;
      });
      row.append(head, ...cells);
      return row;
    }));
    this.live.querySelectorAll(".cursor-line").forEach((line) => line.remove());
    const axis = this.live._fullLayout?.xaxis, layer = this.live.querySelector(".cartesianlayer .xy");
    if (axis?.l2p && layer) {
      const line = document.createElementNS("http://www.w3.org/2000/svg", "line");
      const x = axis._offset + axis.l2p(time), size = this.live._fullLayout._size;
      for (const [name, value] of Object.entries({ x1: x, x2: x, y1: size.t, y2: size.t + size.h, class: "cursor-line" })) line.setAttribute(name, value);
      layer.append(line);
    }
  }
}

// Four digits, as the pages write them.
function written(value) {
  const text = Number(value).toPrecision(4);
  return (text.includes("e") ? text.replace(/e\+?(-?)(\d+)/, " × 10^$1$2") : text).replace("-", "\u2212");
}

// The pressure of a run at a time, on the line between its samples.
function at(run, time) {
  const times = run.times_s, last = times.length - 1;
  if (last < 0 || time < times[0] || time > times[last]) return null;
  let low = 0, high = last;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (times[middle] <= time) low = middle; else high = middle;
  }
  const step = times[high] - times[low];
  const share = step > 0 ? (time - times[low]) / step : 0;
  return run.pressures_pa[low] + share * (run.pressures_pa[high] - run.pressures_pa[low]);
}

if (typeof Plotly !== "undefined") {
  for (const section of document.querySelectorAll("[data-traces]")) {
    const view = new TraceView(section);
    view.ask().catch((fault) => view.fail(fault));
  }
}
