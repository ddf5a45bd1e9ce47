// A benchbook with accounts in a real browser: sign in, sign, and the signature
// is seen; the new pages without barriers, wide and narrow, light and dark.
// Needs a Chromium (CHROMIUM, or /usr/bin/chromium) and ISOBAR_BIN (the binary).
import assert from "node:assert/strict";
import { spawn, spawnSync } from "node:child_process";
import { mkdtemp, rm } from "node:fs/promises";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { after, before, test } from "node:test";
import { chromium } from "playwright-core";

const AXE = createRequire(import.meta.url).resolve("axe-core/axe.min.js");
const CASE = "syringe-1ml";
const FIRST = "given once by somebody else";
const PASSWORD = "plum basket lantern four";
const skip = process.env.ISOBAR_BIN ? false : "set ISOBAR_BIN";
const PAGES = [
  "/sign-in", "/password", "/people", "/people/a.analyst", "/register", "/register/FS-1", "/history",
  `/case/${CASE}/sign`, `/case/${CASE}/review`, `/case/${CASE}/units`, `/case/${CASE}/report`,
];

let base, browser, server, folder;

function isobar(words, lines) {
  const done = spawnSync(resolve(process.env.ISOBAR_BIN), words, {
    cwd: folder, input: lines.map((line) => `${line}\n`).join(""), encoding: "utf8",
    env: { ...process.env, ISOBAR_KEYS: join(folder, "keys") },
  });
  assert.equal(done.status, 0, `isobar ${words.join(" ")}: ${done.stderr}`);
}

before(async () => {
  if (skip) return;
  folder = await mkdtemp(join(tmpdir(), "isobar-"));
  isobar(["demo", "--into", "demo", "--no-serve"], []);
  isobar(["account", "begin", "lab.benchbook", "--id", "o.owner", "--name", "Olga Owner (invented)"], [PASSWORD]);
  for (const [id, role] of [["a.analyst", "analyst"], ["r.reviewer", "reviewer"], ["p.approver", "approver"]]) {
    isobar(["account", "add", "lab.benchbook", "--id", id, "--name", `${role} (invented)`, "--role", role, "--account", "o.owner"], [PASSWORD, FIRST]);
    isobar(["account", "password", "lab.benchbook", "--account", id], [FIRST, PASSWORD]);
  }
  isobar(["copy", "demo/demo.benchbook", "--case", CASE, "--into", "lab.benchbook", "--account", "a.analyst"], [PASSWORD]);
  isobar(["register", "add", "lab.benchbook", "--id", "FS-1", "--kind", "flow-standard", "--description", "glass capillary (invented)",
    "--certificate", "INV-0001", "--valid-until", "2999-12-31", "--account", "a.analyst"], [PASSWORD]);
  server = spawn(resolve(process.env.ISOBAR_BIN), ["serve", "lab.benchbook", "--port", "0"], {
    cwd: folder, env: { ...process.env, ISOBAR_KEYS: join(folder, "keys") },
  });
  base = await new Promise((found, failed) => {
    let said = "";
    server.stdout.on("data", (part) => {
      said += part;
      const link = /http:\/\/[0-9.:[\]a-z]+:\d+/.exec(said);
      if (link) found(link[0]);
    });
    server.on("exit", (code) => failed(new Error(`isobar ended with ${code}`)));
    setTimeout(() => failed(new Error(`no link within 120 s: ${said}`)), 120_000).unref();
  });
  browser = await chromium.launch({ executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium", args: ["--no-sandbox"] });
});

after(async () => {
  await browser?.close();
  server?.removeAllListeners("exit");
  server?.kill();
  if (folder) await rm(folder, { recursive: true, force: true });
});

async function signedIn(account, settings = {}) {
  const context = await browser.newContext({ viewport: { width: 1400, height: 900 }, ...settings });
  const page = await context.newPage();
  page.complaints = [];
  page.on("console", (message) => {
    if (["error", "warning"].includes(message.type())) page.complaints.push(message.text());
  });
  page.on("request", (request) => {
    if (!request.url().startsWith(base) && !request.url().startsWith("data:")) page.complaints.push(`left for ${request.url()}`);
  });
  await page.goto(`${base}/case/${CASE}/sign`);
  await page.getByLabel("Account").fill(account);
  await page.getByLabel("Password").fill(PASSWORD);
  await page.getByRole("button", { name: "Sign in" }).click();
  await page.waitForURL(`**/case/${CASE}/sign`);
  return { page, context };
}

async function sign(page, meaning) {
  await page.goto(`${base}/case/${CASE}/sign`);
  await page.getByLabel("I sign as").selectOption(meaning);
  await page.locator("#sign-password").fill(PASSWORD);
  await page.getByRole("button", { name: "Sign", exact: true }).click();
}

test("sign in leads back to the page, and three people sign", { skip }, async () => {
  const author = await signedIn("a.analyst");
  await sign(author.page, "authored");
  await author.page.getByRole("status").filter({ hasText: "is signed" }).waitFor();
  const reviewer = await signedIn("r.reviewer");
  await sign(reviewer.page, "reviewed");
  await reviewer.page.getByRole("status").waitFor();
  const approver = await signedIn("p.approver");
  await sign(approver.page, "approved");
  await approver.page.getByRole("alert").filter({ hasText: "audit trail was not reviewed" }).waitFor();
  await reviewer.page.goto(`${base}/case/${CASE}/review`);
  await reviewer.page.getByLabel("Finding").fill("every change has its reason");
  await reviewer.page.getByRole("button", { name: "Record the review" }).click();
  await reviewer.page.getByRole("status").waitFor();
  await sign(approver.page, "approved");
  await approver.page.getByRole("status").waitFor();
  await approver.page.goto(`${base}/case/${CASE}/report`);
  assert.equal(await approver.page.locator(".signatures .stands").count(), 3);
  await approver.page.getByRole("button", { name: "Sign out" }).click();
  await approver.page.waitForURL("**/sign-in");
  await approver.page.goto(`${base}/people`);
  assert.match(approver.page.url(), /sign-in\?to=/);
  for (const { context } of [author, reviewer, approver]) await context.close();
});

for (const colorScheme of ["light", "dark"]) {
  test(`the pages of records stand without barrier, ${colorScheme}`, { skip }, async () => {
    const account = colorScheme === "light" ? "o.owner" : "a.analyst";
    const { page, context } = await signedIn(account, { colorScheme, bypassCSP: true });
    for (const path of PAGES) {
      const response = await page.goto(base + path, { waitUntil: "networkidle" });
      assert.equal(response.status(), 200, path);
      await page.addScriptTag({ path: AXE });
      const found = await page.evaluate(() => globalThis.axe.run(document, {
        runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
      }));
      const faults = found.violations.map((one) => `${one.id}: ${one.nodes.slice(0, 3).map((node) => node.target.join(" ")).join("; ")}`);
      assert.deepEqual(faults, [], `axe on ${path}, ${colorScheme}`);
      if (process.env.SHOTS) await page.screenshot({ path: `${process.env.SHOTS}/${path.replaceAll("/", "_")}-${colorScheme}-wide.png`, fullPage: true });
    }
    assert.deepEqual(page.complaints, []);
    await page.setViewportSize({ width: 320, height: 720 });
    for (const path of PAGES) {
      await page.goto(base + path, { waitUntil: "networkidle" });
      const beyond = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
      if (process.env.SHOTS) await page.screenshot({ path: `${process.env.SHOTS}/${path.replaceAll("/", "_")}-${colorScheme}-narrow.png`, fullPage: true });
      assert.ok(beyond <= 0, `${path} is ${beyond} px too wide`);
    }
    await context.close();
  });
}

test("a form is sent with the keyboard alone", { skip }, async () => {
  const context = await browser.newContext();
  const page = await context.newPage();
  await page.goto(`${base}/sign-in`);
  await page.getByLabel("Account").focus();
  await page.keyboard.type("a.analyst");
  await page.keyboard.press("Tab");
  await page.keyboard.type(PASSWORD);
  await page.keyboard.press("Enter");
  await page.waitForURL(`${base}/`);
  await context.close();
});
