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
  if (place.clientWidth < 520) wanted.legend = { orientation: "h", x: 0, y: -0.28, yanchor: "top" };
  await Plotly.react(place, recoloured(structuredClone(data), dark), wanted, PLOT_SETTINGS);
  for (const bar of place.querySelectorAll(".modebar-btn")) {
    if (!bar.hasAttribute("aria-label")) bar.setAttribute("aria-label", bar.dataset.title ?? "");
  }
}

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
