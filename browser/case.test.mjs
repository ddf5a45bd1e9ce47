// Whole stories of a case in a real browser: from a container to a signed
// report; a dirty file that is put right; a reviewer who does not accept; two who
// change one case; and the pages of this work without barriers.
// Needs a Chromium (CHROMIUM, or /usr/bin/chromium) and ISOBAR_BIN (the binary).
import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
import { after, before, test } from "node:test";
import { Lab, sign, skip } from "./lab.mjs";

let lab;
before(async () => { if (!skip) lab = await Lab.open(); });
after(async () => { await lab?.close(); });

const button = (page, name) => page.getByRole("button", { name, exact: true });
const file = (name, text) => ({ name, mimeType: "text/csv", buffer: Buffer.from(text) });

// Invented results: tight units, and leaks of which the larger ones are found.
function results() {
  const rows = ["unit,class,defect [um],operator,day,reading [Pa],ended"];
  for (let n = 0; n < 60; n += 1) rows.push(`N-${n},negative,,A. Analyst,${n % 3 + 1},${(10 + 0.3 * ((n * 7) % 11)).toFixed(2)},completed`);
  [0, 1, 2, 4, 6, 7, 8, 8].forEach((hits, size) => {
    for (let unit = 0; unit < 8; unit += 1) rows.push(`P-${size}-${unit},positive,${2 + 0.5 * size},A. Analyst,${unit % 3 + 1},${unit < hits ? 60 : 11},completed`);
  });
  return `${rows.join("\n")}\n`;
}

// A log of a stranger: no units, decimal commas, a line before the table.
function dirty() {
  const rows = ["LOGGER 7 (invented)", "t;CH2;CH9"];
  for (let n = 0; n < 400; n += 1) {
    const t = n * 0.05, p = t < 8 ? 1.2 + 990 * Math.exp(-t) : 1.2 + 0.004 * (t - 8);
    rows.push(`${t.toFixed(2)};${p.toFixed(4)};7`.replaceAll(".", ","));
  }
  return `${rows.join("\n")}\n`;
}

async function begin(page, id) {
  await page.goto(`${lab.base}/new`);
  await page.locator("#new-start").selectOption("vial-2r");
  await page.locator("#new-id").fill(id);
  await page.locator("#new-product").fill("invented powder");
  await page.locator("#new-filling").selectOption("dry");
  await page.locator("#new-fill").fill("0.4mL");
  await page.locator("#new-leak").fill("5um");
  await button(page, "Begin the case").click();
  await page.waitForURL(`**/case/${id}/profile?done=begun`);
}

test("from a container to a signed report", { skip, timeout: 300_000 }, async () => {
  const { page, context } = await lab.signedIn("a.analyst");
  const started = Date.now();
  await page.getByRole("link", { name: /begin a case from a container/i }).click();
  await begin(page, "story");
  assert.ok(Date.now() - started < 120_000, "a case is begun in under two minutes");
  await page.getByRole("link", { name: "Change profile, rig or cycle" }).click();
  await page.locator("[id='mall.reasoning']").fill("invented: retention of the vacuum over shelf life");
  await page.locator("[id='container.wall.value']").fill("1 furlong");
  await page.locator("#edit-reason").fill("the customer said why");
  await button(page, "Record the change").click();
  await page.getByRole("alert").filter({ hasText: "Container: Wall" }).waitFor();
  await page.locator("[id='container.wall.value']").fill("1 mm");
  await button(page, "Record the change").click();
  await page.waitForURL("**/profile?done=changed");
  await page.goto(`${lab.base}/case/story/forecast`);
  await button(page, "Forecast").click();
  await page.waitForURL("**/forecast?done=recorded", { timeout: 120_000 });
  await page.goto(`${lab.base}/case/story/method`);
  await button(page, "Draw up the method").click();
  await page.waitForURL("**/method?done=recorded");
  await page.goto(`${lab.base}/case/story/plan`);
  await button(page, "Record this plan").click();
  await page.waitForURL("**/plan?done=recorded");
  const [sheet] = await Promise.all([page.waitForEvent("download"), page.getByRole("link", { name: "Run sheet" }).click()]);
  assert.match(await readFile(await sheet.path(), "utf8"), /^number,day,code/);
  await page.goto(`${lab.base}/case/story/runs`);
  await page.locator("#import-files").setInputFiles(file("results.csv", results()));
  await button(page, "Read the files").click();
  await button(page, "Store 124 runs").click();
  await page.getByRole("status").filter({ hasText: "Stored: 124 runs" }).waitFor();
  await page.goto(`${lab.base}/case/story/results`);
  await button(page, "Work out the results").click();
  await page.waitForURL("**/results?done=recorded");
  await page.locator("#settings-confidence_percent").fill("90");
  await button(page, "See what changes").click();
  await page.getByRole("cell", { name: "differs" }).first().waitFor();
  await page.goto(`${lab.base}/case/story/report`);
  await page.locator(".paper h1, .paper h2").first().waitFor();
  await sign(lab, page, "story", "authored");
  await page.getByRole("status").filter({ hasText: "is signed" }).waitFor();
  // The one refusal above is all that the browser complains of.
  assert.deepEqual(page.complaints.filter((words) => !words.includes("422")), []);

  // The reviewer does not accept: an open item stops every signature.
  const reviewer = await lab.signedIn("r.reviewer", "/case/story/sign");
  await reviewer.page.locator("section[aria-labelledby=items] summary").last().click();
  await reviewer.page.locator("section[aria-labelledby=items] :is(textarea, input[type=text])").first().fill("why was the wall changed?");
  await reviewer.page.locator("section[aria-labelledby=items] button[type=submit]").first().click();
  await reviewer.page.locator("section[aria-labelledby=items]").getByText("why was the wall changed?").first().waitFor();
  // While it is open, the page offers no signature.
  await reviewer.page.getByText("Settle the open items first.").waitFor();
  assert.equal(await reviewer.page.getByLabel("I sign as").count(), 0);
  await reviewer.context.close();
  await context.close();
});

test("a dirty file is dropped, asked about, put right and stored", { skip, timeout: 120_000 }, async () => {
  const { page, context } = await lab.signedIn("a.analyst");
  await begin(page, "dirty");
  await page.goto(`${lab.base}/case/dirty/runs`);
  // Dropped, as a hand would do it.
  const transfer = await page.evaluateHandle((text) => {
    const transfer = new DataTransfer();
    transfer.items.add(new File([text], "log.csv", { type: "text/csv" }));
    return transfer;
  }, dirty());
  await page.dispatchEvent("[data-drop]", "drop", { dataTransfer: transfer });
  await page.getByRole("status").filter({ hasText: "1 chosen" }).waitFor();
  await button(page, "Read the files").click();
  await page.getByText("1 of 1 file is refused").waitFor();
  await page.getByLabel("Part of column t").selectOption("elapsed time");
  await page.getByLabel("Unit of column t").fill("s");
  await page.getByLabel("Part of column CH2").selectOption("chamber pressure");
  await page.getByLabel("Unit of column CH2").fill("mbar");
  await page.getByLabel("What the units are").selectOption("negative");
  await button(page, "Read again").click();
  await button(page, "Store 1 run").waitFor();
  if (process.env.SHOTS) await page.screenshot({ path: `${process.env.SHOTS}/import-seen.png`, fullPage: true });
  await button(page, "Store 1 run").click();
  await page.getByRole("status").filter({ hasText: "Stored: 1 run" }).waitFor();
  await page.goto(`${lab.base}/case/dirty/run/1`);
  await page.getByText("Why did the pressure rise?").waitFor();
  assert.deepEqual(page.complaints, []);
  await context.close();
});

test("two who change one case see both texts", { skip, timeout: 120_000 }, async () => {
  const one = await lab.signedIn("a.analyst"), two = await lab.signedIn("a.analyst");
  await begin(one.page, "shared");
  for (const { page } of [one, two]) await page.goto(`${lab.base}/case/shared/edit`);
  const change = async (page, title, reason) => {
    await page.locator("#title").fill(title);
    await page.locator("#edit-reason").fill(reason);
    await button(page, "Record the change").click();
  };
  await change(one.page, "Title of the first", "first");
  await one.page.waitForURL("**/profile?done=changed");
  await change(two.page, "Title of the second", "second");
  await two.page.getByRole("heading", { name: "Somebody else was faster" }).waitFor();
  await two.page.getByRole("cell", { name: "Title of the first" }).waitFor();
  await two.page.getByRole("cell", { name: "Title of the second" }).waitFor();
  await button(two.page, "Record the change").click();
  await two.page.waitForURL("**/profile?done=changed");
  await two.page.getByRole("heading", { name: "Title of the second" }).waitFor();
  for (const { context } of [one, two]) await context.close();
});

test("the evidence of a mark of the ladder is told and reached with the keyboard", { skip }, async () => {
  const { page, context } = await lab.signedIn("a.analyst", "/case/story/results");
  const mark = page.locator(".ladder-marks a").first();
  await mark.focus();
  const says = await mark.getAttribute("data-evidence");
  assert.equal(await page.locator(".ladder .evidence").textContent(), says);
  await page.keyboard.press("Enter");
  await page.waitForLoadState();
  assert.match(page.url(), /\/case\/story\//);
  await context.close();
});

const PAGES = [
  "/", "/new", "/bring-in", "/case/story/profile", "/case/story/edit", "/case/story/edit?as=text", "/case/story/forecast", "/case/story/method", "/case/story/design", "/case/story/design?up_to_um=100&longest_s=60&share_percent=50",
  "/case/story/plan", "/case/story/files", "/case/story/runs", "/case/story/import", "/case/dirty/run/1", "/case/story/results",
];
for (const colorScheme of ["light", "dark"]) {
  test(`the pages of a case that is worked on stand without barrier, ${colorScheme}`, { skip, timeout: 900_000 }, async () => {
    const { page, context } = await lab.signedIn("a.analyst", "/", { colorScheme, bypassCSP: true });
    await page.goto(`${lab.base}/case/story/import`);
    await page.locator("#import-files").setInputFiles(file("log.csv", dirty().replace("LOGGER", "OTHER")));
    await button(page, "Read the files").click();
    await page.getByText("1 of 1 file is refused").waitFor();
    const seen = page.url().slice(lab.base.length);
    const { runs } = await page.evaluate(async () => (await fetch("/case/story/runs.json")).json());
    await lab.withoutBarrier(page, [...PAGES, seen, `/case/story/run/${runs[0].number}`], colorScheme);
    await context.close();
  });
}

test("an import needs no script", { skip }, async () => {
  const { page, context } = await lab.signedIn("a.analyst", "/case/dirty/import", { javaScriptEnabled: false });
  await page.locator("#import-files").setInputFiles(file("plain.csv", dirty().replace("LOGGER", "THIRD")));
  await button(page, "Read the files").click();
  await page.getByText("1 of 1 file is refused").waitFor();
  await button(page, "Let the files go").click();
  await page.getByRole("status").filter({ hasText: "Nothing was stored" }).waitFor();
  await context.close();
});
