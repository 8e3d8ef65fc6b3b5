// How fast the library is as a program, as a module in Node and as a module in Chromium, in one run, as CPU time:
// `node tests/page/speed.mjs`. The program is the release build (WHICHMODE names another).
import { spawnSync } from "node:child_process";
import { existsSync, mkdtempSync, readFileSync, statSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { browser, fixture, module_, page as pagePath, root } from "./common.mjs";

const ROUNDS = 3;
const program = process.env.WHICHMODE ?? [join(root, "target/release/whichmode"), join(root, "target/fast/whichmode")].find(existsSync);
const place = mkdtempSync(join(tmpdir(), "speed-"));

/** Sixteen-bit sound of a fixture, played over and over until it lasts so long. */
const long = (seconds) => {
  const rate = 44100;
  const all = Buffer.alloc(44 + 2 * rate * seconds);
  all.write("RIFF", 0);
  all.writeUInt32LE(all.length - 8, 4);
  all.write("WAVEfmt ", 8);
  [[16, 4], [1, 2], [1, 2], [rate, 4], [2 * rate, 4], [2, 2], [16, 2]].reduce((at, [value, size]) => all.writeUIntLE(value, at, size) , 16);
  all.write("data", 36);
  all.writeUInt32LE(all.length - 44, 40);
  // A plucked line: notes of half a second with eight falling partials, up and down D Dorian kumoi.
  const steps = [0, 2, 3, 7, 9, 12, 9, 7, 3, 2];
  for (let k = 0; k < rate * seconds; k++) {
    const note = Math.floor(k / rate / 0.5);
    const t = k / rate - 0.5 * note;
    const hz = 293.66 * 2 ** (steps[note % steps.length] / 12);
    let x = 0;
    for (let n = 1; n <= 8; n++) x += Math.sin(2 * Math.PI * n * hz * t) / n / Math.exp(2 * n * t * 0.4);
    all.writeInt16LE(Math.round(6000 * x * Math.exp(-2 * t)), 44 + 2 * k);
  }
  return all;
};

const FILES = [
  ["three minutes, WAV 44.1 kHz", "long.wav", long(180), 180],
  ["a phrase, MP3", "slips.mp3", readFileSync(fixture("phrases/slips.mp3")), 12.8],
  ["a phrase, FLAC", "kumoi-dorian.flac", readFileSync(fixture("phrases/kumoi-dorian.flac")), 12],
];
for (const [, name, bytes] of FILES) writeFileSync(join(place, name), bytes);

const least = (values) => Math.min(...values);
const rounds = async (work) => {
  const found = [];
  for (let k = 0; k < ROUNDS; k++) found.push(await work());
  return least(found);
};

/** CPU seconds of this process's children so far (Linux; user and system). */
const native = (name) => {
  const run = spawnSync("bash", ["-c", 'TIMEFORMAT="%U %S"; time "$0" identify --json "$1" >/dev/null', program, join(place, name)], { encoding: "utf8" });
  const [user, system] = run.stderr.trim().split("\n").at(-1).split(" ").map(Number);
  return user + system;
};

const { ask } = await module_();
const inNode = (name, bytes) => {
  const begun = process.cpuUsage();
  ask({ do: "identify", name }, bytes);
  const used = process.cpuUsage(begun);
  return (used.user + used.system) / 1e6;
};

const chromium = await browser();
const session = await chromium.newBrowserCDPSession();
const page = await (await chromium.newContext()).newPage();
await page.goto(pathToFileURL(pagePath).href);
await page.waitForSelector("body[data-ready=yes]");
/** CPU seconds of the page's process: its worker, its compiler and its drawing together. */
const rendererSeconds = async () => {
  const { processInfo } = await session.send("SystemInfo.getProcessInfo");
  return processInfo.filter((p) => p.type === "renderer").reduce((sum, p) => sum + p.cpuTime, 0);
};
const inChromium = async (name) => {
  await page.evaluate(() => document.getElementById("state").replaceChildren());
  const begun = await rendererSeconds();
  const clock = Date.now();
  await page.setInputFiles("#files", join(place, name));
  await page.waitForFunction(() => document.getElementById("progress").hidden && document.querySelector("#state p")?.textContent, null, { timeout: 120000, polling: 20 });
  const seconds = (Date.now() - clock) / 1000;
  return { cpu: (await rendererSeconds()) - begun, seconds };
};

console.log(`the file: ${(statSync(pagePath).size / 1e6).toFixed(2)} MB; the program: ${program}; CPU seconds, the least of ${ROUNDS}`);
console.log("| | program | module in Node | page in Chromium, all of it | by the clock | times real time (Chromium) | wasm against native |");
console.log("| --- | --- | --- | --- | --- | --- | --- |");
for (const [what, name, bytes, seconds] of FILES) {
  const first = await inChromium(name);
  const row = [await rounds(() => native(name)), await rounds(() => inNode(name, bytes))];
  const shown = [];
  for (let k = 0; k < ROUNDS; k++) shown.push(await inChromium(name));
  const cpu = least(shown.map((s) => s.cpu));
  const figures = [...row, cpu].map((x) => x.toFixed(2));
  console.log(`| ${what} | ${figures.join(" | ")} | ${least(shown.map((s) => s.seconds)).toFixed(2)} (first ${first.seconds.toFixed(2)}) | ${(seconds / cpu).toFixed(0)} | ${(row[1] / row[0]).toFixed(1)} |`);
}
await chromium.close();
