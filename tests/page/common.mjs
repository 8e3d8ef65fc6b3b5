// What the tests of the page share: where things lie, the command's own answers, the module in Node, a browser.
import { execFileSync } from "node:child_process";
import { existsSync, readdirSync, readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { join, resolve } from "node:path";

export const root = resolve(import.meta.dirname, "../..");
export const page = join(root, "target/whichmode.html");
const wasm = join(root, "target/page/wasm32-unknown-unknown/page/whichmode_page.wasm");
export const command = process.env.WHICHMODE ?? join(root, "target/debug/whichmode");
// Packages that only the tests need (playwright-core, axe-core) are installed outside the repository's files.
const tools = createRequire(join(process.env.PAGE_TOOLS ?? join(root, "target/page-tools"), "x.js"));
export const axeSource = () => readFileSync(tools.resolve("axe-core/axe.min.js"), "utf8");

const folder = (name) => join(root, "fixtures", name);
export const fixture = (name) => join(root, "fixtures", name);
export const fixtures = () =>
  ["formats", "phrases", "speech"].flatMap((part) =>
    readdirSync(folder(part))
      .filter((name) => !name.endsWith(".jsonl"))
      .map((name) => `${part}/${name}`)
  );

/** What the command says of a file: the object of its JSON line, with `error` where it fails. */
export const commandSays = (words, file) => {
  try {
    return JSON.parse(execFileSync(command, [...words, "--json", file], { encoding: "utf8", stdio: ["ignore", "pipe", "ignore"] }));
  } catch (error) {
    return JSON.parse(error.stdout || '{"error":{"kind":"none"}}');
  }
};

/** The module, and a function that asks it. */
export const module_ = async () => {
  const compiled = await WebAssembly.compile(readFileSync(wasm));
  let progress = 0;
  const instance = await WebAssembly.instantiate(compiled, { page: { progress: () => (progress += 1) } });
  const { memory, room, answer, reply } = instance.exports;
  const write = (which, bytes) => {
    const place = room(which, bytes.length);
    new Uint8Array(memory.buffer, place, bytes.length).set(bytes);
  };
  const ask = (request, sound) => {
    write(0, new TextEncoder().encode(JSON.stringify(request)));
    if (sound) write(1, sound);
    const length = answer();
    return JSON.parse(new TextDecoder().decode(new Uint8Array(memory.buffer, reply(), length)));
  };
  return { ask, memory, progress: () => progress };
};

/** What must be the same wherever the library runs: names, notes, verdicts. */
export const essence = (answer) =>
  answer.error
    ? { error: answer.error.kind }
    : {
        verdict: answer.verdict,
        version: answer.version,
        centre: answer.centre?.name ?? null,
        note_names: answer.note_names,
        notes: answer.notes.map((n) => n.name),
        outside: answer.outside.map((o) => o.name),
        warnings: answer.warnings,
      };

const HELD = 480;
const SHORT = 96;

/** A standard MIDI file (format 0, 480 ticks to a beat of half a second) of keys one after another; F# (66) is short. */
const midi = (keys) => {
  const on = (key) => [0, 0x90, key, 90];
  // A time of more than seven bits takes two bytes: 480 is 3 * 128 + 96.
  const off = (key) => (key === 66 ? [SHORT, 0x80, key, 0] : [0x80 | (HELD >> 7), HELD & 127, 0x80, key, 0]);
  const events = [...keys.flatMap((key) => [...on(key), ...off(key)]), 0, 0xff, 0x2f, 0];
  const length = Buffer.alloc(4);
  length.writeUInt32BE(events.length);
  return Buffer.concat([Buffer.from("MThd\0\0\0\x06\0\0\0\x01\x01\xe0MTrk", "latin1"), length, Buffer.from(events)]);
};
const line = [62, 64, 65, 69, 71, 74, 76, 74, 71, 69, 65, 64, 62, 57, 59, 62, 64, 65, 64, 62, 65, 69, 71, 71, 69, 65, 64, 62];

/** The line four times, an F# touched twice. */
export const touching = () => midi([...line, ...line.toSpliced(12, 0, 66), ...line.toSpliced(20, 0, 66), ...line]);

/** The line, the same a semitone higher, the line again. */
export const passages = () => midi([...line, ...line.map((key) => key + 1), ...line]);

/** A browser that fetches nothing by itself; `more` are further arguments. */
export const browser = (more = []) => {
  const { chromium } = tools("playwright-core");
  const executablePath = ["/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"].find(existsSync);
  const quiet = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"];
  return chromium.launch({ executablePath, args: [...quiet, ...more] });
};
