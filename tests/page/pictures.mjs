// Pictures of every state of the page and of the reports, to be looked at: `node tests/page/pictures.mjs [FOLDER]`.
import { execFileSync } from "node:child_process";
import { copyFileSync, mkdirSync, mkdtempSync, readFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { browser, command, fixture, fixtures, page as pagePath, passages, root, touching } from "./common.mjs";

const folder = resolve(process.argv[2] ?? join(root, "target/page-pictures"));
mkdirSync(folder, { recursive: true });
const VIEWS = { phone: { width: 360, height: 740 }, desktop: { width: 1400, height: 900 } };
const PHRASES = fixtures().filter((name) => name.startsWith("phrases/"));
const made = (name, buffer) => ({ name, mimeType: "application/octet-stream", buffer });
const file = (name, from) => made(name, readFileSync(fixture(from)));
const NAMES = ["Ana", "Ben", "Chloe", "Dario", "Emil", "Fay", "Goran", "Hana", "Ivo", "Jule", "Kira", "Leo"];
const classFiles = () => NAMES.map((name, k) => file(`${name}.${PHRASES[k % PHRASES.length].split(".").pop()}`, PHRASES[k % PHRASES.length]));
const A2 = "strings/guitar-acoustic-A2.flac";

const idle = (page) => page.waitForFunction(() => document.getElementById("progress").hidden && document.querySelector("#state p")?.textContent, null, { timeout: 120000 });
const hear = async (page, files) => {
  await page.evaluate(() => document.getElementById("state").replaceChildren());
  await page.setInputFiles("#files", files);
  await idle(page);
};

/** Each state: what is done, one after another on the same page. */
const STATES = {
  empty: async () => {},
  working: async (page) => {
    await page.setInputFiles("#files", classFiles());
    await page.waitForFunction(() => document.getElementById("bar").value > 0.2);
  },
  answered: async (page) => {
    await page.click("#cancel").catch(() => {});
    await page.waitForFunction(() => document.getElementById("progress").hidden);
    await page.click("#asked summary");
    await page.fill("#neck", "DADGAD");
    await hear(page, [file("Ana.mp3", "phrases/slips.mp3")]);
    await page.click("#asked summary");
  },
  touched: async (page) => hear(page, [made("Ivo.mid", touching())]),
  passages: async (page) => {
    await page.click("#asked summary");
    await page.check("#passages");
    await hear(page, [made("lesson.mid", passages())]);
    await page.uncheck("#passages");
    await page.click("#asked summary");
  },
  error: async (page) => hear(page, [file("Emil.wav", "formats/no-sound-text.wav")]),
  asked: async (page) => {
    await page.fill("#assignment", "D kumoi");
    await page.waitForFunction(() => document.querySelectorAll("#asked-shown li").length > 1);
  },
  class: async (page) => {
    await page.fill("#assignment", "D Dorian kumoi");
    await hear(page, classFiles());
  },
  sheet: async (page) => {
    // By keyboard: a press of the mouse right after a picture of the whole page is lost.
    await page.locator("tr[data-row] th button").nth(2).press("Enter");
    await page.waitForSelector("article.sheet");
  },
  tuning: async (page) => {
    await page.click("#tab-strings");
    await page.fill("#strings", "A2 D3");
    await page.setInputFiles("#strings-file", fixture(A2));
    await page.waitForSelector("article.instrument");
  },
  "tuning-as-it-is": async (page) => {
    await page.fill("#strings", "");
    await page.setInputFiles("#strings-file", fixture(A2));
    await page.waitForFunction(() => !document.querySelector("article.instrument h2")?.textContent.includes("all"));
    await page.waitForTimeout(600);
  },
  names: async (page) => {
    await page.click("#tab-names");
    await page.fill("#name", "kumoi");
    await page.fill("#names-neck", "guitar standard");
    await page.press("#name", "Enter");
    await page.waitForSelector("#names-answer .meaning");
    await page.locator("#names-answer .play").nth(1).click();
    await page.waitForSelector("#names-answer audio");
  },
  related: async (page) => {
    await page.fill("#names-neck", "");
    await page.fill("#name", "D Dorian kumoi, E F A B D");
    await page.press("#name", "Enter");
    await page.waitForSelector("#names-answer .family");
  },
};
const PRINTED = ["answered", "passages", "class", "sheet", "tuning", "names"];

/** The three reports that the command writes. */
const reports = () => {
  const place = mkdtempSync(join(tmpdir(), "reports-"));
  const run = (...words) => execFileSync(command, words, { stdio: "ignore" });
  run("identify", fixture("phrases/slips.mp3"), "--report", join(place, "recording.html"), "--strings", "DADGAD");
  mkdirSync(join(place, "class"));
  NAMES.forEach((name, k) => {
    const from = PHRASES[k % PHRASES.length];
    copyFileSync(fixture(from), join(place, "class", `${name}.${from.split(".").pop()}`));
  });
  run("review", "--assignment", "D Dorian kumoi", join(place, "class"), "--report", join(place, "out"));
  run("tuning", fixture(A2), "--report", join(place, "strings.html"));
  return { "report-recording": join(place, "recording.html"), "report-class": join(place, "out/index.html"), "report-strings": join(place, "strings.html") };
};

const shoot = (page, name) => page.screenshot({ path: join(folder, `${name}.png`), fullPage: true });
const printed = (page, name) => page.pdf({ path: join(folder, `${name}.pdf`), format: "A4", printBackground: true });

const chromium = await browser();
const written = reports();
for (const [view, viewport] of Object.entries(VIEWS)) {
  for (const colorScheme of ["light", "dark"]) {
    const context = await chromium.newContext({ viewport, colorScheme, reducedMotion: "reduce" });
    const page = await context.newPage();
    await page.goto(pathToFileURL(pagePath).href);
    await page.waitForSelector("body[data-ready=yes]");
    for (const [state, reach] of Object.entries(STATES)) {
      await reach(page);
      await shoot(page, `${state}-${view}-${colorScheme}`);
      if (view === "desktop" && colorScheme === "light" && PRINTED.includes(state)) await printed(page, `${state}-print`);
    }
    for (const [name, path] of Object.entries(written)) {
      await page.goto(pathToFileURL(path).href);
      await shoot(page, `${name}-${view}-${colorScheme}`);
      if (view === "desktop" && colorScheme === "light") await printed(page, `${name}-print`);
    }
    await context.close();
  }
}
await chromium.close();
console.log(folder);
