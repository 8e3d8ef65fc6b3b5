// The page in a real browser: from the disk and from a server, on every format, as a class, with the microphone, on a
// phone, offline. Chromium by playwright-core; axe-core looks for what keeps people out.
import assert from "node:assert/strict";
import { createServer } from "node:http";
import { mkdtempSync, readFileSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { basename, join } from "node:path";
import { after, before, test } from "node:test";
import { pathToFileURL } from "node:url";
import { axeSource, browser, commandSays, essence, fixture, fixtures, page as pagePath } from "./common.mjs";

const address = pathToFileURL(pagePath).href;
const CONFIDENCE = 1e-6;
let chromium;
before(async () => (chromium = await browser()));
after(async () => chromium.close());

/** Opens the page and fails on any error that the console is told. */
const open = async (options = {}, url = address, from = chromium) => {
  const context = await from.newContext({ acceptDownloads: true, ...options });
  const page = await context.newPage();
  page.faults = [];
  page.on("console", (m) => m.type() === "error" && page.faults.push(m.text()));
  page.on("pageerror", (e) => page.faults.push(e.message));
  await page.goto(url);
  await page.waitForSelector("body[data-ready=yes]", { timeout: 60000 });
  return page;
};
const close = async (page) => {
  assert.deepEqual(page.faults, []);
  await page.context().close();
};
const idle = (page) => page.waitForFunction(() => document.getElementById("progress").hidden && document.querySelector("#state p")?.textContent, null, { timeout: 300000 });
const hear = async (page, files) => {
  await page.evaluate(() => document.getElementById("state").replaceChildren());
  await page.setInputFiles("#files", files);
  await page.waitForFunction(() => !document.getElementById("progress").hidden || document.querySelector("#state p")?.textContent);
  await idle(page);
};
const stored = (page) => page.evaluate(() => JSON.parse(localStorage.getItem("whichmode.answers/1") ?? "null"));
const named = (files) => files.map(([name, file]) => ({ name, mimeType: "application/octet-stream", buffer: readFileSync(fixture(file)) }));

// The one with wrong notes first.
const PHRASES = fixtures().filter((name) => name.startsWith("phrases/")).sort((a, b) => b.includes("slips") - a.includes("slips"));
const classOf = (count) => named(Array.from({ length: count }, (_, k) => [`student ${String(k + 1).padStart(2, "0")} ${basename(PHRASES[k % PHRASES.length])}`, PHRASES[k % PHRASES.length]]));

test("a recording is answered from the disk, offline, with a drawing and a player", async () => {
  const page = await open({ offline: true });
  await hear(page, fixture("phrases/slips.mp3"));
  assert.equal(await page.textContent("h2.answer"), "E Phrygian kumoi");
  assert.match(await page.textContent(".verdict"), /Home is E\. 9\d\s% sure/);
  assert.ok(await page.locator("svg.line polyline").count());
  assert.equal(await page.locator(".outside-notes .moment").count(), 2);
  await page.locator(".outside-notes .moment").first().press("Enter");
  await page.waitForFunction(() => document.querySelector(".player-place audio").currentTime > 4.3);
  assert.ok((await page.evaluate(() => document.querySelector(".player-place audio").currentTime)) < 6);
  await close(page);
});

test("every format is answered in the browser as by the command", async () => {
  const page = await open();
  const names = fixtures();
  await hear(page, named(names.map((name) => [name.replace("/", "-"), name])));
  const answers = await stored(page);
  const soundNamed = /\.png$/;
  const heard = names.filter((name) => !soundNamed.test(name));
  assert.equal(answers.length, heard.length);
  let worst = 0;
  heard.forEach((name, k) => {
    const expected = commandSays(["identify"], fixture(name));
    const got = answers[k].error ? answers[k] : answers[k].answer;
    assert.deepEqual(essence(got), essence(expected), name);
    if (got.centre) worst = Math.max(worst, Math.abs(got.centre.confidence - expected.centre.confidence));
  });
  console.log(`greatest difference of a confidence in the browser: ${worst}`);
  assert.ok(worst <= CONFIDENCE);
  await close(page);
});

/** A server on this machine that gives the page and nothing else. */
const served = async () => {
  const asked = [];
  const server = createServer((request, response) => {
    asked.push(request.url);
    response.setHeader("Content-Type", "text/html; charset=utf-8");
    response.end(readFileSync(pagePath));
  });
  await new Promise((resolve) => server.listen(0, "127.0.0.1", resolve));
  return { asked, server, url: `http://127.0.0.1:${server.address().port}/whichmode.html` };
};

test("from a server as well, with nothing asked of it but the page", async () => {
  const { asked, server, url } = await served();
  const page = await open({}, url);
  await hear(page, fixture("phrases/kumoi-dorian.flac"));
  assert.equal(await page.textContent("h2.answer"), "D Dorian kumoi");
  assert.deepEqual(asked.filter((url) => url !== "/favicon.ico"), ["/whichmode.html"]);
  page.faults = page.faults.filter((fault) => !fault.includes("favicon"));
  await close(page);
  server.close();
});

for (const count of [12, 30]) {
  test(`a class of ${count}: table, slips, sorting, sheet, CSV, reload`, async () => {
    const page = await open();
    await page.fill("#assignment", "D Dorian kumoi");
    await page.waitForFunction(() => document.getElementById("asked-shown").textContent.includes("D E F A B"));
    const begun = Date.now();
    await hear(page, classOf(count));
    console.log(`a class of ${count}: ${((Date.now() - begun) / 1000).toFixed(1)} s`);
    assert.equal(await page.locator("tr[data-row]").count(), count);
    const answers = await stored(page);
    answers.forEach((answer, k) => {
      const expected = commandSays(["review", "--assignment", "D Dorian kumoi"], fixture(PHRASES[k % PHRASES.length]));
      assert.equal(answer.review.verdict, expected.verdict, answer.name);
      assert.equal(answer.review.explanation, expected.explanation, answer.name);
    });
    const needs = () => page.locator("tr[data-row] td:nth-child(2)").evaluateAll((cells) => cells.map((c) => Number(c.dataset.sort)));
    const sorted = await needs();
    assert.deepEqual(sorted, [...sorted].sort((a, b) => a - b));
    await page.locator(".sorter").nth(1).click();
    assert.deepEqual(await needs(), [...sorted].sort((a, b) => b - a));
    const moment = page.locator("tr[data-row] .moment").first();
    const at = Number(await moment.getAttribute("data-at"));
    await moment.click();
    await page.waitForFunction((at) => Math.abs(document.querySelector(".class-table audio").currentTime - at) < 2, at);
    const download = page.waitForEvent("download");
    await page.click("#save-csv");
    const csv = readFileSync(await (await download).path(), "utf8");
    assert.equal(csv.trimEnd().split("\r\n").length, count + 1);
    await page.locator("tr[data-row] th button").first().click();
    await page.waitForSelector("article.sheet");
    assert.equal(await page.evaluate(() => document.activeElement.className), "class-back");
    await page.click(".class-back");
    await page.waitForSelector("tr[data-row]");
    await page.reload();
    await page.waitForSelector("tr[data-row]");
    assert.equal(await page.locator("tr[data-row]").count(), count);
    await page.click("#forget");
    assert.equal(await stored(page), null);
    await close(page);
  });
}

test("a disputed name shows what will be asked; nonsense is a sentence", async () => {
  const page = await open();
  await page.fill("#assignment", "D kumoi");
  await page.waitForFunction(() => document.querySelectorAll("#asked-shown li").length > 1);
  await page.fill("#assignment", "zzz");
  await page.waitForSelector("#asked-shown.wrong p");
  await page.fill("#assignment", "H: 2 1 2 2 2 1 2");
  await page.check("#german");
  await page.waitForFunction(() => document.getElementById("asked-shown").textContent.includes("H Dorian"));
  await close(page);
});

test("stopping keeps the page alive", async () => {
  const page = await open();
  await page.setInputFiles("#files", classOf(20));
  await page.waitForSelector("#progress:not([hidden])");
  await page.click("#cancel");
  await idle(page);
  assert.match(await page.textContent("#state"), /Stopped/);
  await page.setInputFiles("#files", []);
  await hear(page, fixture("phrases/kumoi-dorian.flac"));
  assert.match(await page.textContent("#answers"), /D Dorian kumoi/);
  await close(page);
});

test("damaged, empty and foreign files are told in sentences", async () => {
  const page = await open();
  for (const name of ["formats/no-sound-text.wav", "formats/no-sound-empty.wav", "formats/no-wma.wma"]) {
    await hear(page, fixture(name));
    const expected = commandSays(["identify"], fixture(name)).error.message;
    assert.equal(await page.textContent("article.failed .told"), expected);
  }
  await hear(page, [{ name: "notes.txt", mimeType: "text/plain", buffer: Buffer.from("x") }]);
  assert.match(await page.textContent("#state"), /no recording/);
  await close(page);
});

test("a name full of markup does nothing", async () => {
  const page = await open();
  const name = "<img src=x onerror=alert(1)>.wav";
  let alerted = false;
  page.on("dialog", (dialog) => ((alerted = true), dialog.dismiss()));
  const bytes = readFileSync(fixture("formats/wav-s16.wav"));
  await hear(page, [{ name, mimeType: "audio/wav", buffer: bytes }]);
  assert.ok((await page.textContent(".eyebrow")).includes(name));
  await page.fill("#assignment", "D Dorian kumoi");
  await hear(page, [{ name, mimeType: "audio/wav", buffer: bytes }, { name: `2${name}`, mimeType: "audio/wav", buffer: bytes }]);
  // What lies in the storage is no more trusted than a file's name.
  await page.evaluate(() => localStorage.setItem("whichmode.answers/1", JSON.stringify([{ name: "x", title: "x", html: "<img src=x onerror=alert(2)><a href='javascript:alert(3)' onclick='alert(4)'>x</a><script>alert(5)</script>" }])));
  await page.reload();
  await page.waitForSelector("#answers a");
  await page.click("#answers a");
  assert.equal(await page.locator("img, #answers script").count(), 0);
  assert.equal(alerted, false);
  // The policy says in the console that it refused the handlers of the storage's fragment.
  page.faults = page.faults.filter((fault) => !fault.startsWith("Executing inline event handler violates"));
  await close(page);
});

/** A WAV file of a fixture, decoded by the browser itself. */
const asWav = async (name) => {
  const page = await open();
  const text = await page.evaluate(async (bytes) => {
    const raw = Uint8Array.from(atob(bytes), (c) => c.charCodeAt(0));
    const sound = await new OfflineAudioContext(1, 1, 48000).decodeAudioData(raw.buffer);
    const file = new Uint8Array(await wav(sound.getChannelData(0), 48000).arrayBuffer());
    let out = "";
    for (const byte of file) out += String.fromCharCode(byte);
    return btoa(out);
  }, readFileSync(fixture(name)).toString("base64"));
  await close(page);
  const path = join(mkdtempSync(join(tmpdir(), "page-")), "phrase.wav");
  writeFileSync(path, Buffer.from(text, "base64"));
  return path;
};

// Browsers give the microphone to a page by a worklet where it comes from a server, by the older way from the disk.
for (const from of ["disk", "server"]) {
  test(`what the microphone hears is answered, page from the ${from}`, async () => {
    const path = await asWav("phrases/kumoi-dorian.flac");
    const own = await browser(["--use-fake-ui-for-media-stream", "--use-fake-device-for-media-stream", `--use-file-for-fake-audio-capture=${path}%noloop`]);
    const { server, url } = await served();
    const page = await open({}, from === "disk" ? address : url, own);
    await page.click("#record");
    await page.waitForSelector("#recorder button");
    await page.waitForTimeout(16000);
    assert.ok(Number(await page.getAttribute("[role=meter]", "aria-valuenow")) >= 0);
    await page.click("#recorder button.main");
    await page.waitForSelector("h2.answer");
    await idle(page);
    assert.equal(await page.textContent("h2.answer"), "D Dorian kumoi");
    await page.waitForFunction(() => document.querySelector(".player-place audio").duration > 10);
    page.faults = page.faults.filter((fault) => !/favicon|404/.test(fault));
    await close(page);
    await own.close();
    server.close();
  });
}

test("strings are read while they are plucked", async () => {
  const path = await asWav("strings/guitar-acoustic-A2.flac");
  const own = await browser(["--use-fake-ui-for-media-stream", "--use-fake-device-for-media-stream", `--use-file-for-fake-audio-capture=${path}`]);
  const page = await open({}, address, own);
  await page.click("#tab-strings");
  await page.fill("#strings", "A2 E3");
  await page.click("#listen");
  await page.waitForFunction(() => /[1-9] strings? heard/.test(document.getElementById("strings-recorder").textContent), null, { timeout: 30000 });
  assert.match(await page.textContent("#strings-answer .off"), /cents|true/);
  await page.click("#strings-recorder button");
  await page.waitForFunction(() => document.getElementById("strings-recorder").hidden);
  await close(page);
  await own.close();
});

test("strings as they are, live and from a recording, where none are named", async () => {
  const page = await open();
  await page.click("#tab-strings");
  await page.setInputFiles("#strings-file", fixture("strings/guitar-acoustic-A2.flac"));
  await page.waitForSelector("article.instrument");
  const expected = commandSays(["tuning"], fixture("strings/guitar-acoustic-A2.flac"));
  assert.ok((await page.textContent("article.instrument table")).includes(expected.strings[0].measured_hz.toFixed(2)));
  await close(page);
});

test("a sheet is saved as a page of its own, with its sound", async () => {
  const page = await open();
  await page.fill("#assignment", "D Dorian kumoi");
  await hear(page, classOf(2));
  await page.locator("tr[data-row] th button").first().click();
  await page.waitForSelector("article.sheet");
  const download = page.waitForEvent("download");
  await page.getByRole("button", { name: "Save this sheet" }).click();
  const saved = readFileSync(await (await download).path(), "utf8");
  assert.match(saved, /Content-Security-Policy/);
  assert.match(saved, /<audio[^>]+src="data:audio/);
  assert.ok(saved.includes("What was asked"));
  await close(page);
});

test("strings from a recording", async () => {
  const page = await open();
  await page.click("#tab-strings");
  await page.fill("#strings", "A2");
  await page.setInputFiles("#strings-file", fixture("strings/guitar-acoustic-A2.flac"));
  await page.waitForSelector("article.instrument");
  const expected = commandSays(["tuning", "--strings", "A2"], fixture("strings/guitar-acoustic-A2.flac"));
  assert.ok((await page.textContent(".off")).includes(Math.abs(expected.strings[0].deviation_cents).toFixed(1)));
  await close(page);
});

test("a name's meanings are shown and can be played; scales are compared", async () => {
  const page = await open();
  await page.click("#tab-names");
  await page.fill("#name", "kumoi");
  await page.press("#name", "Enter");
  await page.waitForSelector("#names-answer .meaning");
  assert.ok((await page.locator("#names-answer .meaning").count()) >= 3);
  await page.fill("#names-neck", "DADGAD");
  await page.press("#name", "Enter");
  await page.waitForSelector("#names-answer svg.neck .neck-centre");
  // All in a row, then the first alone: its sound is as long as the line and not silent.
  const lengths = [];
  for (const at of [0, 1]) {
    await page.locator("#names-answer .play").nth(at).click();
    await page.waitForFunction(() => /quietly/.test(document.getElementById("names-state").textContent) && document.querySelector("#names-answer audio")?.duration > 5);
    lengths.push(await page.evaluate(() => document.querySelector("#names-answer audio").duration));
  }
  assert.ok(lengths[0] > 2.5 * lengths[1], String(lengths));
  await page.fill("#name", "D Dorian kumoi, E F A B D");
  await page.press("#name", "Enter");
  await page.waitForSelector("#names-answer .family");
  assert.match(await page.textContent("#names-answer"), /same notes/);
  await close(page);
});

test("doors by keyboard alone", async () => {
  const page = await open();
  await page.keyboard.press("Tab");
  assert.equal(await page.evaluate(() => document.activeElement.className), "skip");
  await page.keyboard.press("Tab");
  assert.equal(await page.evaluate(() => document.activeElement.id), "tab-hear");
  await page.keyboard.press("ArrowRight");
  assert.equal(await page.evaluate(() => document.activeElement.id), "tab-strings");
  assert.ok(await page.isVisible("#strings"));
  await close(page);
});

for (const colorScheme of ["light", "dark"]) {
  for (const [kind, viewport] of [["phone", { width: 360, height: 740 }], ["desktop", { width: 1400, height: 900 }]]) {
    test(`nothing keeps people out: ${kind}, ${colorScheme}`, async () => {
      const page = await open({ colorScheme, viewport, reducedMotion: "reduce" });
      // Through the debugger's door, which the page's policy does not stop.
      const violations = async () => {
        await page.evaluate(axeSource());
        const found = await page.evaluate(() => axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"] }));
        return found.violations.map((v) => `${v.id}: ${v.nodes.slice(0, 3).map((n) => n.html).join(" | ")}`);
      };
      const fits = () => page.evaluate(() => document.documentElement.scrollWidth <= innerWidth);
      assert.deepEqual(await violations(), [], "empty");
      await hear(page, fixture("phrases/slips.mp3"));
      assert.deepEqual(await violations(), [], "answered");
      assert.ok(await fits(), "answered");
      await page.fill("#assignment", "D Dorian kumoi");
      await hear(page, classOf(6));
      assert.deepEqual(await violations(), [], "class");
      assert.ok(await fits(), "class");
      await page.click("#tab-strings");
      await page.fill("#strings", "A2");
      await page.setInputFiles("#strings-file", fixture("strings/guitar-acoustic-A2.flac"));
      await page.waitForSelector("article.instrument");
      assert.deepEqual(await violations(), [], "strings");
      assert.ok(await fits(), "strings");
      await page.click("#tab-names");
      await page.fill("#name", "kumoi");
      await page.press("#name", "Enter");
      await page.waitForSelector("#names-answer .meaning");
      assert.deepEqual(await violations(), [], "names");
      assert.ok(await fits(), "names");
      await close(page);
    });
  }
}

test("first answer and speed", async () => {
  const page = await open();
  await hear(page, fixture("phrases/kumoi-dorian.flac"));
  const begun = Date.now();
  await hear(page, fixture("phrases/slips.mp3"));
  const wall = (Date.now() - begun) / 1000;
  console.log(`a phrase of 12.8 s: ${wall.toFixed(2)} s by the clock`);
  await close(page);
});
