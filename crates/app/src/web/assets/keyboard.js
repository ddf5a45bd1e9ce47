// Keys: one letter or digit each, switched off by the reader where they are in
// the way (WCAG 2.2, 2.1.4). Never inside a field.
const KEYS = [
  ["1 to 7", "a step of the case"], ["[ and ]", "step before, step after"],
  ["c", "cases"], ["r", "register"], ["h", "audit trail"], ["p", "people"], ["j", "this page as JSON"],
  ["t", "light or dark"], ["?", "these keys"],
];

function keysOn() {
  try { return localStorage.getItem("keys") !== "off"; } catch { return true; }
}

function keysDialog() {
  const dialog = document.createElement("dialog");
  dialog.className = "keys";
  dialog.setAttribute("aria-labelledby", "keys-title");
  const title = document.createElement("h2");
  title.id = "keys-title";
  title.textContent = "Keys";
  const list = document.createElement("dl");
  for (const [key, meaning] of KEYS) {
    const pair = document.createElement("div"), name = document.createElement("dt"), text = document.createElement("dd");
    const cap = document.createElement("kbd");
    cap.textContent = key;
    name.append(cap);
    text.textContent = meaning;
    pair.append(name, text);
    list.append(pair);
  }
  const label = document.createElement("label"), box = document.createElement("input");
  box.type = "checkbox";
  box.checked = keysOn();
  box.addEventListener("change", () => {
    try { localStorage.setItem("keys", box.checked ? "on" : "off"); } catch { /* for this page only */ }
  });
  label.append(box, " Keys are on");
  const close = document.createElement("button");
  close.type = "button";
  close.textContent = "Close";
  close.addEventListener("click", () => dialog.close());
  dialog.addEventListener("close", () => dialog.remove());
  dialog.append(title, list, label, close);
  document.body.append(dialog);
  dialog.showModal();
}

document.getElementById("keys")?.addEventListener("click", keysDialog);

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || document.querySelector("dialog[open]")) return;
  const typing = event.target.matches?.("input:not([type=checkbox]):not([type=radio]), select, textarea, [contenteditable]");
  if (typing || (!keysOn() && event.key !== "?")) return;
  const steps = [...document.querySelectorAll(".path a")];
  const open = steps.findIndex((step) => step.getAttribute("aria-current") === "page");
  const go = (link) => { if (link) location.href = link.href; };
  if (/^[1-7]$/.test(event.key) && steps.length) go(steps[Number(event.key) - 1]);
  else if (event.key === "[" && open > 0) go(steps[open - 1]);
  else if (event.key === "]" && open >= 0) go(steps[open + 1]);
  else if (event.key === "c") location.href = "/";
  else if (event.key === "h") location.href = "/history";
  else if (event.key === "r") location.href = "/register";
  else if (event.key === "p") location.href = "/people";
  else if (event.key === "j") go(document.querySelector("footer a"));
  else if (event.key === "t") document.getElementById("theme")?.click();
  else if (event.key === "?") keysDialog();
});
