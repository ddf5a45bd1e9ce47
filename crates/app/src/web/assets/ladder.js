// The ladder: the evidence of a mark is said where it is pointed at or reached
// with the keyboard.
for (const ladder of document.querySelectorAll(".ladder")) {
  const says = ladder.querySelector(".evidence");
  for (const mark of ladder.querySelectorAll("[data-evidence]")) {
    for (const name of ["mouseenter", "focus"]) {
      mark.addEventListener(name, () => { says.textContent = mark.dataset.evidence; });
    }
  }
}
