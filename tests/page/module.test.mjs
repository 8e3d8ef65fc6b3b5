// The module in Node, on every fixture: the same answers as the command.
import assert from "node:assert/strict";
import { readFileSync, readdirSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { commandSays, essence, fixture, fixtures, module_, passages, root, touching } from "./common.mjs";

/** Confidences differ by no more: the order of sums differs between processors' vector units. */
const CONFIDENCE = 1e-6;

test("every fixture is answered as by the command", async () => {
  const differing = [];
  let worst = 0;
  for (const name of fixtures()) {
    const { ask } = await module_();
    const reply = ask({ do: "identify", name }, readFileSync(fixture(name)));
    const expected = commandSays(["identify"], fixture(name));
    const got = reply.error ? reply : reply.answer;
    try {
      assert.deepEqual(essence(got), essence(expected));
    } catch {
      differing.push(`${name}: ${JSON.stringify(essence(got)).slice(0, 300)}\n  not ${JSON.stringify(essence(expected)).slice(0, 300)}`);
    }
    if (!reply.error && got.centre && expected.centre) {
      worst = Math.max(worst, Math.abs(got.centre.confidence - expected.centre.confidence), Math.abs(got.set_confidence - expected.set_confidence));
    }
  }
  console.log(`greatest difference of a confidence: ${worst}`);
  assert.deepEqual(differing, []);
  assert.ok(worst <= CONFIDENCE, `confidences differ by ${worst}`);
});

test("progress is told, and damaged sound is a sentence", async () => {
  const { ask, progress } = await module_();
  const bytes = readFileSync(fixture("phrases/slips.mp3"));
  ask({ do: "identify", name: "a.mp3" }, bytes);
  assert.ok(progress() > 20);
  const reply = ask({ do: "identify", name: "a.mp3" }, bytes.subarray(5000, 5100));
  assert.ok(reply.error.message.length > 10);
});

test("names are escaped in what is shown", async () => {
  const { ask } = await module_();
  const name = '<img src=x onerror=alert(1)>".wav';
  const reply = ask({ do: "identify", name }, readFileSync(fixture("formats/wav-s16.wav")));
  assert.ok(!reply.html.includes("<img"));
  assert.ok(reply.html.includes("&lt;img src=x onerror=alert(1)&gt;"));
});

/** A made-up language: the table of words with every letter outside its places a foreign one. */
const foreign = () => {
  const text = (t) => t.replace(/\{\w+\}|[a-z]|[A-Z]/g, (m) => (m.length > 1 ? m : m < "a" ? "Ж" : "ж"));
  const table = JSON.parse(readFileSync(join(root, "src/words/en.json"), "utf8"));
  return Object.fromEntries(Object.entries(table).map(([key, t]) => [key, key === "language" ? t : text(t)]));
};

/** What needs no translation: names of scales, their sources and remarks on them, and of sets of strings. */
const properNames = () => {
  const files = ["src/labels/book.json", "src/labels/cents.json", "src/tuning/string_sets.json", "src/modes/label.rs", "src/modes/family.rs"];
  return new Set(files.flatMap((file) => readFileSync(join(root, file), "utf8").match(/[A-Za-z]{3,}/g)));
};

/** English words in what a page shows: between tags and in labels for ears. */
const leftIn = (html, names) => {
  const labels = [...html.matchAll(/aria-label="([^"]*)"/g)].map((m) => m[1]);
  const text = [html.replace(/<[^>]*>/g, " "), ...labels].join(" ").replace(/&[#a-z0-9]+;/g, " ");
  return (text.match(/[A-Za-z]{3,}/g) ?? []).filter((w) => !names.has(w));
};

test("another table of words is all that another language needs", async () => {
  const { ask } = await module_();
  ask({ do: "words", table: JSON.stringify(foreign()) });
  const names = properNames();
  const file = (name) => readFileSync(fixture(name));
  const pages = new Map();
  const hear = (name, sound, more = {}) => {
    const reply = ask({ do: "identify", name: "x", ...more }, sound);
    pages.set(name, [reply.html, reply.title, reply.answer.decided_by, ...reply.answer.warnings].join(" "));
    return reply;
  };
  for (const name of readdirSync(fixture("phrases")).filter((n) => !n.endsWith(".jsonl"))) hear(name, file(`phrases/${name}`), { strings: "DADGAD" });
  hear("speech", file("speech/low.ogg"));
  hear("a set in passing", touching());
  assert.match(pages.get("a set in passing"), /class="touched"/);
  const parted = hear("passages", passages(), { passages: true });
  assert.equal(parted.answer.passages.length, 3);
  assert.equal(parted.html.match(/class="passage-title"/g).length, 3);

  const submissions = readdirSync(fixture("phrases"))
    .filter((n) => !n.endsWith(".jsonl"))
    .map((n) => ({ file: "x", review: ask({ do: "review", name: "x", assignment: "D Dorian kumoi", both_directions: true, octaves: 3, tolerance_cents: 1 }, file(`phrases/${n}`)).review }));
  submissions.push({ file: "x", error: ask({ do: "review", name: "x", assignment: "D kumoi" }, Buffer.from("words")).error.message });
  pages.set("class", ask({ do: "class", submissions }).html);
  assert.match(pages.get("class"), /data-at/);
  submissions.forEach((submission, k) => pages.set(`sheet ${k}`, ask({ do: "sheet", submission, strings: "DADGAD" }).html));

  for (const name of readdirSync(fixture("strings"))) {
    for (const strings of ["A2 D3", "guitar standard", "C4 slendro", "D3 (0 240 480 720 960)", ""]) {
      const reply = ask({ do: "tuning", name: "x", strings, a4_hz: 440 }, file(`strings/${name}`));
      pages.set(`${name}, ${strings}`, reply.error?.message ?? reply.html);
    }
  }
  for (const text of ["D Dorian kumoi, E F A B D", "kumoi", "hirajoshi", "D E F A B"]) pages.set(text, ask({ do: "look_up", text, root: "D", strings: "" }).html);

  const refused = (request, sound) => pages.set(JSON.stringify(request) + (sound?.length ?? ""), ask(request, sound).error.message);
  for (const sound of [Buffer.alloc(0), Buffer.from("a text and nothing else"), file("phrases/slips.mp3").subarray(5000, 5100)]) refused({ do: "identify", name: "x" }, sound);
  for (const signature of ["\x89PNG\r\n", "%PDF", "wvpk", "#!AMR", "RIFF\0\0\0\0AVI "]) refused({ do: "identify", name: "x" }, Buffer.from(signature, "latin1"));
  for (const assignment of ["", "kumoi", "D zz", "H C D E", "D: 2 2 2", "D: x", "D (1 9)", "D 3 3", "D E F X A", "zz ".repeat(100)]) refused({ do: "asked", assignment });
  for (const strings of ["X", "D", "D99", "harp"]) refused({ do: "tuning", name: "x", strings, a4_hz: 440 }, file("formats/wav-s16.wav"));
  for (const wanted of [{ text: "kumoi", root: "X" }, { text: "zz", root: "D" }, { text: "ku", root: "D" }]) refused({ do: "look_up", strings: "", ...wanted });
  refused({ do: "identify", name: "x", a4_hz: 9 }, file("formats/wav-s16.wav"));
  refused({ do: "review", name: "x", assignment: "D Dorian", tolerance_cents: 99 }, file("formats/wav-s16.wav"));

  const left = [...pages].map(([name, text]) => [name, [...new Set(leftIn(text, names))]]).filter(([, words]) => words.length);
  assert.equal(JSON.stringify(left), "[]");
});

test("note names are written as German ones on demand", async () => {
  const { ask } = await module_();
  const sound = readFileSync(fixture("phrases/kumoi-dorian.flac"));
  const reply = ask({ do: "identify", name: "x.flac", german: true }, sound);
  // D E F A B of the README, B being H.
  assert.deepEqual(reply.answer.note_names, ["D", "E", "F", "A", "H"]);
  assert.ok(!/>B\d?</.test(reply.html));
  assert.equal(ask({ do: "asked", assignment: "B Dorian", german: true }).meanings[0].notes.join(" "), "B C Des Es F G As");
  assert.deepEqual(ask({ do: "identify", name: "x.flac" }, sound).answer.note_names, ["D", "E", "F", "A", "B"]);
});

test("names sound at the loudness of EBU R 128, and strings cost the same after a minute as at first", async () => {
  const { ask } = await module_();
  const played = ask({ do: "play", place: 0, text: "kumoi", root: "D" });
  const wav = Buffer.from(played.wav, "base64");
  assert.equal(wav.toString("latin1", 0, 4), "RIFF");
  // R 128 asks for -23 LUFS; the mean square of a steady mono tone near 1 kHz is some 3 dB about that (EBU Tech 3341).
  let sum = 0;
  for (let at = 44; at < wav.length; at += 2) sum += (wav.readInt16LE(at) / 32768) ** 2;
  const db = 10 * Math.log10(sum / ((wav.length - 44) / 2));
  assert.ok(db > -29 && db < -17, `${db} dB`);

  const rate = 48000;
  ask({ do: "listen", name: "live", rate_hz: rate, strings: "A2 D3", a4_hz: 440 });
  const second = new Float32Array(rate);
  for (let k = 0; k < rate; k++) {
    const t = k / rate;
    for (let n = 1; n <= 6; n++) second[k] += (0.2 / n) * Math.exp(-3 * t) * Math.sin(2 * Math.PI * 110 * n * t);
  }
  const cost = [];
  let told = 0;
  for (let k = 0; k < 90; k++) {
    const begun = process.cpuUsage();
    const reply = ask({ do: "push" }, new Uint8Array(second.buffer));
    const used = process.cpuUsage(begun);
    told += reply.told.length;
    cost.push((used.user + used.system) / 1000);
  }
  const middle = (list) => [...list].sort((a, b) => a - b)[Math.floor(list.length / 2)];
  const [early, late] = [middle(cost.slice(5, 35)), middle(cost.slice(60))];
  console.log(`a second of plucks: ${early.toFixed(1)} ms of CPU at first, ${late.toFixed(1)} ms after a minute; ${told} plucks told`);
  assert.ok(told > 80, `${told} told`);
  assert.ok(late < 1.5 * early + 5, `${early} then ${late} ms`);
  assert.equal(ask({ do: "end" }).answer.strings[0].measured_hz.toFixed(0), "110");
});

test("memory for a recording of three minutes stays small", async () => {
  const { ask, memory } = await module_();
  // A plain tone that moves by whole tones, 180 s of 16-bit sound at 44.1 kHz.
  const rate = 44100;
  const view = new DataView(new ArrayBuffer(44 + 180 * rate * 2));
  [..."RIFF"].forEach((c, k) => view.setUint8(k, c.charCodeAt(0)));
  view.setUint32(4, view.byteLength - 8, true);
  [..."WAVEfmt "].forEach((c, k) => view.setUint8(8 + k, c.charCodeAt(0)));
  [[16, 16, 4], [20, 1, 2], [22, 1, 2], [24, rate, 4], [28, 2 * rate, 4], [32, 2, 2], [34, 16, 2], [40, view.byteLength - 44, 4]]
    .forEach(([at, value, size]) => (size === 4 ? view.setUint32(at, value, true) : view.setUint16(at, value, true)));
  [..."data"].forEach((c, k) => view.setUint8(36 + k, c.charCodeAt(0)));
  for (let k = 0; k < 180 * rate; k++) {
    const hz = 220 * 2 ** ((2 * (Math.floor(k / rate / 0.5) % 6)) / 12);
    view.setInt16(44 + 2 * k, 9000 * Math.sin((2 * Math.PI * hz * k) / rate), true);
  }
  const begun = process.cpuUsage();
  const reply = ask({ do: "identify", name: "long.wav" }, new Uint8Array(view.buffer));
  const used = process.cpuUsage(begun);
  assert.ok(!reply.error, reply.error?.message);
  const mebibytes = memory.buffer.byteLength / 2 ** 20;
  const seconds = (used.user + used.system) / 1e6;
  console.log(`three minutes: ${seconds.toFixed(2)} s of CPU, ${(180 / seconds).toFixed(0)} times real time, ${mebibytes.toFixed(0)} MiB beside the file's 15`);
  assert.ok(mebibytes < 96, `${mebibytes} MiB`);
});
