// Import: files are dropped, their sending is shown and can be stopped, and a
// page that waits for the reading looks again by itself.
const inMiB = (bytes) => `${(bytes / 1048576).toPrecision(3)} MiB`;

for (const zone of document.querySelectorAll("[data-drop]")) {
  const form = zone.closest("form"), input = zone.querySelector("input[type=file]");
  const list = zone.querySelector(".drop-list"), bar = zone.querySelector("progress");
  const most = Number(zone.dataset.drop);
  const chosen = () => [...input.files];
  const size = () => chosen().reduce((sum, file) => sum + file.size, 0);
  const say = () => {
    const files = chosen(), bytes = size();
    const names = files.slice(0, 5).map((file) => file.name).join(", ");
    list.textContent = files.length === 0 ? ""
      : `${files.length} chosen, ${inMiB(bytes)}: ${names}${files.length > 5 ? " …" : ""}`
        + (bytes > most ? `. That is more than ${inMiB(most)}: send them in parts.` : "");
  };
  input.addEventListener("change", say);
  for (const name of ["dragenter", "dragover"]) {
    zone.addEventListener(name, (event) => { event.preventDefault(); zone.classList.add("over"); });
  }
  for (const name of ["dragleave", "drop"]) {
    zone.addEventListener(name, () => zone.classList.remove("over"));
  }
  zone.addEventListener("drop", (event) => {
    event.preventDefault();
    if (event.dataTransfer.files.length === 0) return;
    input.files = event.dataTransfer.files;
    say();
  });
  form.addEventListener("submit", (event) => {
    // What is quick needs no bar; what is refused is refused by the server in words.
    if (size() < 1 << 20 || size() > most) return;
    event.preventDefault();
    const button = form.querySelector("button[type=submit]"), stop = document.createElement("button");
    const request = new XMLHttpRequest();
    bar.hidden = false;
    button.disabled = true;
    stop.type = "button";
    stop.textContent = "Stop sending";
    stop.addEventListener("click", () => request.abort());
    button.after(stop);
    const over = (words) => {
      bar.hidden = true;
      button.disabled = false;
      stop.remove();
      list.textContent = words;
    };
    request.upload.addEventListener("progress", (moved) => {
      bar.value = moved.loaded / moved.total;
      list.textContent = `${inMiB(moved.loaded)} of ${inMiB(moved.total)} sent.`;
    });
    request.addEventListener("load", () => {
      if (request.status < 400) location.assign(request.responseURL);
      else { over(""); form.submit(); }
    });
    request.addEventListener("error", () => over("The files did not arrive. Send them again."));
    request.addEventListener("abort", () => over("Stopped; nothing was kept."));
    request.open("POST", form.action);
    request.send(new FormData(form));
  });
}

for (const working of document.querySelectorAll("[data-working]")) {
  const bar = working.querySelector("progress"), done = working.querySelector("[data-done]");
  const look = async () => {
    try {
      const seen = await (await fetch(working.dataset.working)).json();
      if (!["arrived", "reading", "storing"].includes(seen.state)) { location.reload(); return; }
      bar.value = seen.files_read;
      done.textContent = seen.files_read;
    } catch { /* looked for again */ }
    setTimeout(look, 400);
  };
  setTimeout(look, 400);
}
