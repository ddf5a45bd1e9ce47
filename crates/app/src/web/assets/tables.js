// Ticking many runs at once.
for (const button of document.querySelectorAll("[data-tick]")) {
  button.addEventListener("click", () => {
    const boxes = [...document.querySelectorAll('input[name="run"]')];
    for (const box of boxes) box.checked = button.dataset.tick === "all";
    boxes[0]?.dispatchEvent(new Event("change", { bubbles: true }));
  });
}
// A filter answers as soon as it is changed.
for (const form of document.querySelectorAll("form.filter")) {
  form.addEventListener("change", (event) => {
    // A day that is being typed is a day at each key.
    if (event.target.type !== "date") form.requestSubmit();
  });
}
