// An invented laboratory for the tests: a benchbook with four accounts, served
// to a real browser.
import assert from "node:assert/strict";
import { spawn, spawnSync } from "node:child_process";
import { mkdtemp, rm } from "node:fs/promises";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { chromium } from "playwright-core";

const AXE = createRequire(import.meta.url).resolve("axe-core/axe.min.js");
const FIRST = "given once by somebody else";
export const PASSWORD = "plum basket lantern four";
export const skip = process.env.ISOBAR_BIN ? false : "set ISOBAR_BIN";

export class Lab {
  // `prepare` fills the benchbook before it is served.
  static async open(prepare = () => {}) {
    const lab = new Lab();
    lab.folder = await mkdtemp(join(tmpdir(), "isobar-"));
    lab.env = { ...process.env, ISOBAR_KEYS: join(lab.folder, "keys") };
    lab.isobar(["account", "begin", "lab.benchbook", "--id", "o.owner", "--name", "Olga Owner (invented)"], [PASSWORD]);
    for (const [id, role] of [["a.analyst", "analyst"], ["r.reviewer", "reviewer"], ["p.approver", "approver"]]) {
      lab.isobar(["account", "add", "lab.benchbook", "--id", id, "--name", `${role} (invented)`, "--role", role, "--account", "o.owner"], [PASSWORD, FIRST]);
      lab.isobar(["account", "password", "lab.benchbook", "--account", id], [FIRST, PASSWORD]);
    }
    prepare(lab);
    lab.server = spawn(resolve(process.env.ISOBAR_BIN), ["serve", "lab.benchbook", "--port", "0"], { cwd: lab.folder, env: lab.env });
    lab.base = await new Promise((found, failed) => {
      let said = "";
      lab.server.stdout.on("data", (part) => {
        said += part;
        const link = /http:\/\/[0-9.:[\]a-z]+:\d+/.exec(said);
        if (link) found(link[0]);
      });
      lab.server.on("exit", (code) => failed(new Error(`isobar ended with ${code}`)));
      setTimeout(() => failed(new Error(`no link within 120 s: ${said}`)), 120_000).unref();
    });
    lab.browser = await chromium.launch({ executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium", args: ["--no-sandbox"] });
    return lab;
  }

  isobar(words, lines) {
    const done = spawnSync(resolve(process.env.ISOBAR_BIN), words, {
      cwd: this.folder, input: lines.map((line) => `${line}\n`).join(""), encoding: "utf8", env: this.env,
    });
    assert.equal(done.status, 0, `isobar ${words.join(" ")}: ${done.stderr}`);
  }

  async close() {
    await this.browser?.close();
    this.server?.removeAllListeners("exit");
    this.server?.kill();
    if (this.folder) await rm(this.folder, { recursive: true, force: true });
  }

  // A page of somebody who has signed in; it remembers what must not happen.
  async signedIn(account, to = "/", settings = {}) {
    const context = await this.browser.newContext({ viewport: { width: 1400, height: 900 }, acceptDownloads: true, ...settings });
    const page = await context.newPage();
    page.complaints = [];
    page.on("console", (message) => {
      if (["error", "warning"].includes(message.type())) page.complaints.push(message.text());
    });
    page.on("pageerror", (fault) => page.complaints.push(fault.message));
    page.on("request", (request) => {
      if (!request.url().startsWith(this.base) && !request.url().startsWith("data:")) page.complaints.push(`left for ${request.url()}`);
    });
    await page.goto(this.base + to);
    await page.getByLabel("Account").fill(account);
    await page.getByLabel("Password").fill(PASSWORD);
    await page.getByRole("button", { name: "Sign in" }).click();
    await page.waitForURL((link) => !link.pathname.startsWith("/sign-in"));
    return { page, context };
  }

  // Every page stands without barrier, and is no wider than a narrow screen or
  // smaller than a large one.
  async withoutBarrier(page, paths, colour) {
    const shot = (path, width) => process.env.SHOTS
      && page.screenshot({ path: `${process.env.SHOTS}/${path.replaceAll(/[/?=]/g, "_")}-${colour}-${width}.png`, fullPage: true });
    for (const path of paths) {
      const response = await page.goto(this.base + path, { waitUntil: "networkidle" });
      assert.equal(response.status(), 200, path);
      assert.deepEqual(await faultsOfAccess(page), [], `axe on ${path}, ${colour}`);
      await shot(path, "wide");
    }
    assert.deepEqual(page.complaints, []);
    // Width does not depend on colour.
    for (const width of colour === "dark" ? [] : [320, 3840]) {
      await page.setViewportSize({ width, height: width === 320 ? 720 : 2160 });
      for (const path of paths) {
        await page.goto(this.base + path, { waitUntil: "networkidle" });
        const beyond = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
        if (width === 320) await shot(path, width);
        assert.ok(beyond <= 0, `${path} is ${beyond} px too wide at ${width}`);
      }
    }
  }
}

export async function faultsOfAccess(page) {
  await page.addScriptTag({ path: AXE });
  const found = await page.evaluate(() => globalThis.axe.run(document, {
    runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
  }));
  return found.violations.map((one) => `${one.id}: ${one.nodes.slice(0, 3).map((node) => node.target.join(" ")).join("; ")}`);
}

export async function sign(lab, page, id, meaning) {
  await page.goto(`${lab.base}/case/${id}/sign`);
  await page.getByLabel("I sign as").selectOption(meaning);
  await page.locator("#sign-password").fill(PASSWORD);
  await page.getByRole("button", { name: "Sign", exact: true }).click();
}
