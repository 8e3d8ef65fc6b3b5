"use strict";
// A worker that answers requests with an instance of the module. A trap throws the instance away and makes a new one.
let compiled = null;
let instance = null;
let words = "";
let asked = 0;

const progress = (done, promised) => postMessage({ id: asked, done, promised });

const start = async () => {
  instance = await WebAssembly.instantiate(compiled, { page: { progress } });
  answer({ do: "words", table: words });
};

const write = (which, bytes) => {
  const { room, memory } = instance.exports;
  const place = room(which, bytes.length);
  new Uint8Array(memory.buffer, place, bytes.length).set(bytes);
};

const answer = (request, sound) => {
  write(0, new TextEncoder().encode(JSON.stringify(request)));
  if (sound) write(1, new Uint8Array(sound));
  const length = instance.exports.answer();
  const bytes = new Uint8Array(instance.exports.memory.buffer, instance.exports.reply(), length);
  return JSON.parse(new TextDecoder().decode(bytes));
};

onmessage = async ({ data }) => {
  if (data.module) {
    try {
      words = data.words;
      compiled = data.module instanceof WebAssembly.Module ? data.module : await WebAssembly.compile(data.module);
      await start();
      postMessage({ ready: true });
    } catch (error) {
      postMessage({ ready: false, message: String(error.message ?? error) });
    }
    return;
  }
  asked = data.id;
  try {
    const begun = performance.now();
    const reply = answer(data.request, data.sound);
    postMessage({ id: data.id, reply, milliseconds: performance.now() - begun });
  } catch (error) {
    await start();
    postMessage({ id: data.id, trap: String(error.message ?? error) });
  }
};
