// Figures become plots that can be zoomed. Without this script, on paper and
// before the data has come, the drawing stands.
const PLOT_SETTINGS = {
  responsive: true, displaylogo: false, doubleClick: "reset",
  modeBarButtonsToRemove: ["select2d", "lasso2d", "autoScale2d"],
};

function plotHeight(element) {
  return Math.max(300, Math.min(460, Math.round(element.clientWidth * 0.55)));
}

// Draws or redraws a plot into its place.
async function drawPlot(place, data, layout) {
  const dark = isDark();
  const wanted = dressed(layout, dark);
  wanted.height = plotHeight(place);
  const narrow = place.clientWidth < 520;
  for (const mark of wanted.annotations ?? []) {
    mark.bgcolor = dark ? "rgba(18,24,30,0.75)" : "rgba(250,247,240,0.75)";
    const is_stage = mark.yref === "paper" && (mark.xanchor ?? "center") === "center";
    // A label of a narrow band stands upright; one at a vertical rule lies along it.
    if (is_stage && narrow) mark.textangle = -90;
    if (mark.yref === "paper" && mark.xanchor === "left") Object.assign(mark, { y: 0.5, yanchor: "middle", xanchor: "right", textangle: -90 });
  }
  if (narrow) {
    const lines = data.filter((trace) => trace.showlegend !== false).length;
    wanted.font.size = 12;
    wanted.legend = { orientation: "h", x: 0, yref: "container", y: 0, yanchor: "bottom" };
    wanted.margin = { l: 52, r: 12, t: 10, b: 56 + 19 * lines };
    wanted.height = 270 + 19 * lines;
  }
  await Plotly.react(place, recoloured(structuredClone(data), dark), wanted, PLOT_SETTINGS);
  // The library's buttons are anchors without a target; they become buttons.
  for (const button of place.querySelectorAll(".modebar-btn")) {
    button.setAttribute("role", "button");
    button.tabIndex = 0;
    button.setAttribute("aria-label", button.dataset.title ?? "");
  }
}

document.addEventListener("keydown", (event) => {
  if ((event.key === "Enter" || event.key === " ") && event.target.matches?.(".modebar-btn")) {
    event.preventDefault();
    event.target.click();
  }
});

const plotSources = new Map();

async function enliven(figure) {
  const live = figure.querySelector(".plot-live");
  const response = await fetch(figure.dataset.figure);
  if (!response.ok) return;
  const plot = await response.json();
  plotSources.set(live, plot);
  live.hidden = false;
  figure.classList.add("is-live");
  await drawPlot(live, plot.data, plot.layout);
  figure.dataset.drawn = "yes";
}

function redrawAll() {
  for (const [live, plot] of plotSources) drawPlot(live, plot.data, plot.layout);
  document.dispatchEvent(new Event("recolour"));
}

if (typeof Plotly !== "undefined") {
  for (const figure of document.querySelectorAll("figure[data-figure]")) {
    // A plot that cannot be made leaves the drawing where it is.
    enliven(figure).catch((fault) => console.warn("plot left as drawing:", fault.message));
  }
}

matchMedia("(prefers-color-scheme: dark)").addEventListener("change", redrawAll);

document.getElementById("theme")?.addEventListener("click", () => {
  const next = isDark() ? "light" : "dark";
  document.documentElement.dataset.theme = next;
  try { localStorage.setItem("theme", next); } catch { /* kept for this page only */ }
  redrawAll();
});
