// The forecast bench: sliders on a logarithmic scale, fields beside them, and
// a forecast made by the server at every turn.
class Bench {
  constructor(section) {
    this.section = section;
    this.address = section.dataset.bench;
    this.knobs = [...section.querySelectorAll(".knob")].map((place) => ({
      name: place.dataset.name,
      of_case: Number(place.dataset.value),
      low: Math.log(Number(place.dataset.low)),
      high: Math.log(Number(place.dataset.high)),
      slider: place.querySelector('input[type="range"]'),
      field: place.querySelector('input[type="number"]'),
    }));
    for (const knob of this.knobs) {
      this.place(knob, knob.of_case);
      knob.slider.addEventListener("input", () => {
        const value = Math.exp(knob.low + (knob.high - knob.low) * knob.slider.value / 200);
        knob.field.value = Number(value.toPrecision(3));
        this.say(knob);
        this.turned();
      });
      knob.field.addEventListener("input", () => {
        const value = Number(knob.field.value);
        if (value > 0) { this.slide(knob, value); this.turned(); }
      });
    }
    section.querySelector("form").addEventListener("submit", (event) => event.preventDefault());
    section.querySelector("form").addEventListener("reset", (event) => {
      event.preventDefault();
      for (const knob of this.knobs) this.place(knob, knob.of_case);
      this.turned();
    });
    document.addEventListener("recolour", () => this.draw());
    new IntersectionObserver((entries, watcher) => {
      if (entries.some((entry) => entry.isIntersecting)) { watcher.disconnect(); this.turned(); }
    }).observe(section);
  }

  slide(knob, value) {
    knob.slider.value = 200 * (Math.log(value) - knob.low) / (knob.high - knob.low);
    this.say(knob);
  }

  say(knob) {
    knob.slider.setAttribute("aria-valuetext", knob.field.value);
  }

  place(knob, value) {
    knob.field.value = Number(value.toPrecision(4));
    this.slide(knob, value);
  }

  // One question at a time: while the server works, only the last turn waits.
  turned() {
    if (this.busy) { this.again = true; return; }
    this.busy = true;
    this.ask().catch((fault) => console.warn("bench:", fault.message)).finally(() => {
      this.busy = false;
      if (this.again) { this.again = false; this.turned(); }
    });
  }

  async ask() {
    const query = new URLSearchParams(this.knobs
      .filter((knob) => Number(knob.field.value) > 0)
      .map((knob) => [knob.name, knob.field.value]));
    const response = await fetch(`${this.address}?${query}`);
    const answer = await response.json();
    const out = (name, text) => { this.section.querySelector(`[data-out="${name}"]`).textContent = text; };
    if (!response.ok) { out("because", `${answer.error}. Next: ${answer.hint}.`); return; }
    this.answer = answer;
    out("verdict", answer.verdict);
    for (const name of ["smallest", "largest", "limit"]) out(name, answer.words[name]);
    if (this.section.querySelector('[data-out="liquid"]')) out("liquid", answer.words.liquid || "too little is stated");
    out("because", `This design: ${answer.because}. Grey, dashed: the case as it stands.`);
    await this.draw();
    this.section.dataset.answeredMs = String(Math.round(answer.elapsed_ms));
    this.section.dataset.drawn = String(Number(this.section.dataset.drawn ?? 0) + 1);
  }

  async draw() {
    if (!this.answer) return;
    for (const name of ["detection", "rise"]) {
      const plot = this.answer[name];
      if (plot) await drawPlot(this.section.querySelector(`[data-plot="${name}"]`), plot.data, plot.layout);
    }
  }
}

if (typeof Plotly !== "undefined") {
  for (const section of document.querySelectorAll("[data-bench]")) new Bench(section);
}
