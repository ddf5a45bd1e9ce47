// A benchbook with accounts in a real browser: sign in, sign, and the signature
// is seen; the new pages without barriers, wide and narrow, light and dark.
// Needs a Chromium (CHROMIUM, or /usr/bin/chromium) and ISOBAR_BIN (the binary).
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { Lab, PASSWORD, sign, skip } from "./lab.mjs";

const CASE = "syringe-1ml";
const PAGES = [
  "/sign-in", "/password", "/people", "/people/a.analyst", "/register", "/register/FS-1", "/safekeeping", "/history",
  `/case/${CASE}/sign`, `/case/${CASE}/review`, `/case/${CASE}/units`, `/case/${CASE}/report`,
];

let lab;

before(async () => {
  if (skip) return;
  lab = await Lab.open((lab) => {
    lab.isobar(["demo", "--into", "demo", "--no-serve"], []);
    lab.isobar(["copy", "demo/demo.benchbook", "--case", CASE, "--into", "lab.benchbook", "--account", "a.analyst"], [PASSWORD]);
    lab.isobar(["register", "add", "lab.benchbook", "--id", "FS-1", "--kind", "flow-standard", "--description", "glass capillary (invented)",
      "--certificate", "INV-0001", "--valid-until", "2999-12-31", "--account", "a.analyst"], [PASSWORD]);
  });
});

after(async () => { await lab?.close(); });

test("sign in leads back to the page, and three people sign", { skip }, async () => {
  const here = `/case/${CASE}/sign`;
  const author = await lab.signedIn("a.analyst", here);
  assert.equal(new URL(author.page.url()).pathname, here);
  await sign(lab, author.page, CASE, "authored");
  await author.page.getByRole("status").filter({ hasText: "is signed" }).waitFor();
  const reviewer = await lab.signedIn("r.reviewer", here);
  await sign(lab, reviewer.page, CASE, "reviewed");
  await reviewer.page.getByRole("status").filter({ hasText: "is signed" }).waitFor();
  const approver = await lab.signedIn("p.approver", here);
  await sign(lab, approver.page, CASE, "approved");
  await approver.page.getByRole("alert").filter({ hasText: "audit trail was not reviewed" }).waitFor();
  await reviewer.page.goto(`${lab.base}/case/${CASE}/review`);
  await reviewer.page.getByLabel("Finding").fill("every change has its reason");
  await reviewer.page.getByRole("button", { name: "Record the review" }).click();
  await reviewer.page.locator(".done-note").waitFor();
  await sign(lab, approver.page, CASE, "approved");
  await approver.page.locator(".done-note").waitFor();
  await approver.page.goto(`${lab.base}/case/${CASE}/report`);
  assert.equal(await approver.page.locator(".signatures .stands").count(), 3);
  await approver.page.getByRole("button", { name: "Sign out" }).click();
  await approver.page.waitForURL("**/sign-in");
  await approver.page.goto(`${lab.base}/people`);
  assert.match(approver.page.url(), /sign-in\?to=/);
  for (const { context } of [author, reviewer, approver]) await context.close();
});

for (const colorScheme of ["light", "dark"]) {
  test(`the pages of records stand without barrier, ${colorScheme}`, { skip }, async () => {
    const account = colorScheme === "light" ? "o.owner" : "a.analyst";
    const { page, context } = await lab.signedIn(account, "/", { colorScheme, bypassCSP: true });
    await lab.withoutBarrier(page, PAGES, colorScheme);
    await context.close();
  });
}

test("a form is sent with the keyboard alone", { skip }, async () => {
  const context = await lab.browser.newContext();
  const page = await context.newPage();
  await page.goto(`${lab.base}/sign-in`);
  await page.getByLabel("Account").focus();
  await page.keyboard.type("a.analyst");
  await page.keyboard.press("Tab");
  await page.keyboard.type(PASSWORD);
  await page.keyboard.press("Enter");
  await page.waitForURL(`${lab.base}/`);
  await context.close();
});
