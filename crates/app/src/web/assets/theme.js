// The chosen theme, set before anything is drawn.
"use strict";
document.documentElement.classList.add("with-script");
try {
  const chosen = localStorage.getItem("theme");
  if (chosen === "light" || chosen === "dark") document.documentElement.dataset.theme = chosen;
} catch {
  // A browser that keeps nothing follows the system.
}
