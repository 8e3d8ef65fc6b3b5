// The reports of the command in a real browser: readable with scripts off, nothing in the way of anyone, nothing fetched.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { copyFileSync, mkdirSync, mkdtempSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { pathToFileURL } from "node:url";
import { axeSource, browser, command, fixture } from "./common.mjs";

const place = mkdtempSync(join(tmpdir(), "reports-"));
const run = (...words) => execFileSync(command, words, { stdio: "ignore" });
const inPlace = (name) => join(place, name);
const TUNED = "strings/guitar-acoustic-A2.flac";
/** Each report with what a reader must find in it; the texts are those that the README tells of these recordings. */
const REPORTS = {
  "recording.html": ["E Phrygian kumoi", "Home is E", "A#3", "C#4", "On the neck", "Uehara"],
  "class/index.html": ["2 recordings", "as asked", "slips.mp3", "kumoi-dorian.flac"],
  "strings.html": ["A2", "110.01", "String by string"],
  "as-it-is.html": ["A2", "110.01", "The notes are A"],
};

let chromium;
before(async () => {
  run("identify", fixture("phrases/slips.mp3"), "--report", inPlace("recording.html"), "--strings", "DADGAD");
  mkdirSync(inPlace("in"));
  for (const name of ["slips.mp3", "kumoi-dorian.flac"]) copyFileSync(fixture(`phrases/${name}`), join(inPlace("in"), name));
  run("review", "--assignment", "D Dorian kumoi", inPlace("in"), "--report", inPlace("class"));
  run("tuning", "--strings", "A2", fixture(TUNED), "--report", inPlace("strings.html"));
  run("tuning", fixture(TUNED), "--report", inPlace("as-it-is.html"));
  chromium = await browser();
});
after(async () => chromium.close());

const open = async (name, options) => {
  const context = await chromium.newContext(options);
  const page = await context.newPage();
  page.faults = [];
  page.on("console", (m) => m.type() === "error" && page.faults.push(m.text()));
  page.on("request", (r) => /^(file|data):/.test(r.url()) || page.faults.push(r.url()));
  await page.goto(pathToFileURL(inPlace(name)).href);
  return page;
};

for (const [name, texts] of Object.entries(REPORTS)) {
  test(`${name} is read with scripts off, on a phone and on paper`, async () => {
    const page = await open(name, { javaScriptEnabled: false, offline: true, viewport: { width: 360, height: 740 } });
    const shown = await page.locator("main").innerText();
    for (const text of texts) assert.ok(shown.includes(text), `${text} in ${shown.slice(0, 400)}`);
    assert.ok((await page.locator("main svg, main table").count()) > 0);
    assert.equal(await page.locator("h2.answer").first().isVisible(), true);
    const wide = await page.locator("main").evaluate((main) => main.scrollWidth - main.clientWidth);
    assert.ok(wide <= 1, `${wide} pixels too wide`);
    await page.emulateMedia({ media: "print" });
    assert.ok((await page.locator("main").innerText()).includes(texts[0]));
    assert.equal(await page.locator("audio").first().isVisible().catch(() => false), false);
    assert.deepEqual(page.faults, []);
    await page.context().close();
  });

  for (const colorScheme of ["light", "dark"]) {
    test(`${name}: nothing keeps people out, ${colorScheme}`, async () => {
      const page = await open(name, { colorScheme, viewport: { width: 360, height: 740 } });
      await page.evaluate(axeSource());
      const found = await page.evaluate(() => axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"] }));
      assert.deepEqual(found.violations.map((v) => `${v.id}: ${v.nodes[0].html}`), []);
      assert.deepEqual(page.faults, []);
      await page.context().close();
    });
  }
}

test("a moment of a report plays the sound that is in it", async () => {
  const page = await open("recording.html", {});
  await page.locator(".moment").first().click();
  await page.waitForFunction(() => document.querySelector("audio").currentTime > 4.3);
  await page.context().close();
});
