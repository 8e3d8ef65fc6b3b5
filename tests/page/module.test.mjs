// The module in Node, on every fixture: the same answers as the command.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { commandSays, essence, fixture, fixtures, module_ } from "./common.mjs";

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
