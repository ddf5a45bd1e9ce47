"use strict";
// Colours of plots: the figures come in the inks of paper; on a dark page each
// ink has a lighter twin. Text and lines of the axes follow the page.
const DARK_INKS = {
  "#1a1a1a": "#e8e4da", "#2f5d8a": "#8fb8e0", "#4f9d8c": "#7fd0bd", "#3f8577": "#7fd0bd",
  "#b5532a": "#f0a07c", "#6a2d63": "#dba3d4", "#8a8a86": "#a4a49e",
};

function isDark() {
  const chosen = document.documentElement.dataset.theme;
  if (chosen) return chosen === "dark";
  return matchMedia("(prefers-color-scheme: dark)").matches;
}

function recoloured(value, dark) {
  if (!dark) return value;
  if (typeof value === "string") return DARK_INKS[value] ?? value;
  if (Array.isArray(value)) return typeof value[0] === "number" ? value : value.map((one) => recoloured(one, dark));
  if (value && typeof value === "object") {
    return Object.fromEntries(Object.entries(value).map(([name, one]) => [name, recoloured(one, dark)]));
  }
  return value;
}

// The layout of a plot as this page wants it.
function dressed(layout, dark) {
  const styles = getComputedStyle(document.documentElement);
  const ink = styles.getPropertyValue("--ink").trim();
  const rule = styles.getPropertyValue("--rule").trim();
  const result = recoloured(structuredClone(layout), dark);
  delete result.title;
  const axis = (given) => ({
    ...given, nticks: 7,
    // Raised exponents would need inline style, which the policy forbids.
    exponentformat: "none", ...(given.type === "log" ? { tickformat: ",.4~r", tickfont: { size: 11 } } : {}),
    gridcolor: rule, linecolor: ink, tickcolor: ink, zeroline: false,
    automargin: true, fixedrange: false,
  });
  result.xaxis = axis(result.xaxis ?? {});
  result.yaxis = axis(result.yaxis ?? {});
  result.font = { family: styles.getPropertyValue("--sans").trim(), size: 13, color: ink };
  result.paper_bgcolor = "rgba(0,0,0,0)";
  result.plot_bgcolor = "rgba(0,0,0,0)";
  result.margin = { l: 64, r: 20, t: 20, b: 52 };
  result.separators = ".\u202f";
  result.hoverlabel = { font: { family: result.font.family } };
  return result;
}
