// The engine: workers that run the module. One answers what is quick, the others hear; each hears one recording at a time.
/** Whether note names are read and written as German ones. */
const german = () => byId("german").checked;
const asked = (request) => ({ german: german(), ...request });

const MOST_WORKERS = 6;

const unpacked = async () => {
  const packed = Uint8Array.from(atob(MODULE), (c) => c.charCodeAt(0));
  const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("gzip"));
  return new Response(stream).arrayBuffer();
};

class Hand {
  constructor(module) {
    this.free = true;
    this.waiting = null;
    this.number = 0;
    this.start(module);
  }

  start(module) {
    this.module = module;
    const address = URL.createObjectURL(new Blob([WORKER], { type: "text/javascript" }));
    this.worker = new Worker(address);
    this.ready = new Promise((resolve, reject) => {
      this.worker.onmessage = ({ data }) => {
        if (!data.ready) return reject(new Error(data.message));
        this.worker.onmessage = (event) => this.hear(event.data);
        URL.revokeObjectURL(address);
        resolve();
      };
      this.worker.onerror = (event) => reject(new Error(event.message));
    });
    this.ready.catch(() => {});
    this.worker.postMessage({ module, words: WORDS_TEXT });
  }

  hear(data) {
    const waiting = this.waiting;
    if (!waiting || data.id !== waiting.id) return;
    if (data.done !== undefined) return waiting.progress?.(data.done, data.promised);
    this.waiting = null;
    this.free = true;
    if (data.trap) waiting.resolve({ error: { kind: "internal", message: say("hear.trap") } });
    else waiting.resolve({ ...data.reply, milliseconds: data.milliseconds });
  }

  async ask(request, sound, progress) {
    await this.ready;
    const id = ++this.number;
    return new Promise((resolve) => {
      this.waiting = { id, resolve, progress };
      this.worker.postMessage({ id, request, sound }, sound ? [sound] : []);
    });
  }

  /** Ends it for good. */
  end() {
    this.worker.terminate();
  }

  /** Ends what it does; a new worker takes its place. */
  stop() {
    if (!this.waiting) return;
    this.worker.terminate();
    const { resolve } = this.waiting;
    this.waiting = null;
    this.start(this.module);
    this.free = true;
    resolve({ cancelled: true });
  }
}

class Engine {
  constructor() {
    this.hands = [];
    this.queue = [];
    this.module = unpacked().then((bytes) => WebAssembly.compile(bytes));
    this.clerk = this.module.then((module) => new Hand(module));
    this.last = Promise.resolve();
  }

  /** Asks what needs no hearing; one after another. */
  ask(request, sound) {
    const next = this.last.then(async () => (await this.clerk).ask(asked(request), sound));
    this.last = next.catch(() => {});
    return next;
  }

  /** A worker for one purpose, which its user ends. */
  async own() {
    return new Hand(await this.module);
  }

  /** Hears a recording as soon as a worker is free. `load` gives its bytes when its turn comes. */
  hear(request, load, progress) {
    return new Promise((resolve, reject) => {
      this.queue.push({ request: asked(request), load, progress, resolve, reject });
      this.next();
    });
  }

  async next() {
    const module = await this.module.catch((error) => {
      for (const job of this.queue.splice(0)) job.reject(error);
    });
    if (!module) return;
    while (this.queue.length) {
      const hand = this.hands.find((h) => h.free) ?? this.another(module);
      if (!hand) return;
      hand.free = false;
      this.run(hand, this.queue.shift());
    }
  }

  another(module) {
    if (this.hands.length >= Math.min(navigator.hardwareConcurrency || 2, MOST_WORKERS)) return null;
    this.hands.push(new Hand(module));
    return this.hands.at(-1);
  }

  async run(hand, job) {
    try {
      const sound = await job.load();
      job.resolve(await hand.ask(job.request, sound, job.progress));
    } catch (error) {
      job.reject(error);
    }
    hand.free = true;
    this.next();
  }

  /** Stops all hearing. */
  stop() {
    for (const job of this.queue.splice(0)) job.resolve({ cancelled: true });
    for (const hand of this.hands) hand.stop();
  }
}
