// Hearing recordings: what is dropped, chosen or recorded is answered here, one by one or as a class.
const SOUND_NAME = /\.(wav|wave|flac|mp3|mp2|ogg|oga|opus|m4a|m4b|mp4|3gp|mov|mkv|mka|webm|aif|aiff|aifc|caf|aac|mid|midi|wma|wv|ac3|amr|avi|ts|spx|tta|flv|w64|m4v|mpg|mpeg|ape|au|gsm)$/i;
const NAMED_SKIPPED = 4;

const isSound = (file) => SOUND_NAME.test(file.name) || /^(audio|video)\//.test(file.type);

/** All files under a dropped entry. */
const filesUnder = async (entry) => {
  if (entry.isFile) return [await new Promise((resolve, reject) => entry.file(resolve, reject))];
  const reader = entry.createReader();
  const found = [];
  for (;;) {
    const some = await new Promise((resolve, reject) => reader.readEntries(resolve, reject));
    if (!some.length) return found;
    for (const child of some) found.push(...(await filesUnder(child)));
  }
};

const dropped = async (transfer) => {
  const entries = [...transfer.items].map((item) => item.webkitGetAsEntry?.()).filter(Boolean);
  if (!entries.length) return [...transfer.files];
  const lists = await Promise.all(entries.map(filesUnder));
  return lists.flat();
};

/** The settings of the form, as the module reads them. */
const settings = () => {
  const number = (id) => (byId(id).value === "" ? null : Number(byId(id).value));
  return {
    assignment: byId("assignment").value.trim() && (tasksText ?? byId("assignment").value.trim()),
    strings: byId("neck").value.trim(),
    passages: byId("passages").checked,
    common_practice: byId("common").checked,
    both_directions: byId("both").checked,
    octaves: number("octaves"),
    tolerance_cents: number("tolerance"),
    a4_hz: number("a4"),
  };
};

/** The text of a file of tasks, where one was dropped. */
let tasksText = null;

/** One recording on its way: a file, or samples of the microphone. */
const fromFile = (file) => ({ name: file.webkitRelativePath || file.name, sound: file, load: () => file.arrayBuffer(), rate_hz: null });
const fromTake = (name, take) => ({
  name,
  sound: wav(take.samples, take.rate),
  load: async () => take.samples.buffer.slice(0),
  rate_hz: take.rate,
});

class Desk {
  constructor(engine) {
    this.engine = engine;
    this.results = [];
    this.sounds = new Map();
    this.running = 0;
  }

  async files(list) {
    const tasks = list.find((file) => /\.json$/i.test(file.name));
    if (tasks) await this.takeTasks(tasks);
    const sounds = list.filter(isSound);
    const others = list.filter((file) => !isSound(file) && file !== tasks && !file.name.startsWith("."));
    if (!sounds.length && !tasks) return tell(byId("state"), say("hear.none"), true);
    this.skipped = others.length
      ? say("hear.skipped", { count: others.length, names: others.slice(0, NAMED_SKIPPED).map((f) => f.name).join(", ") })
      : "";
    if (sounds.length) await this.hear(sounds.map(fromFile));
  }

  async takeTasks(file) {
    tasksText = await file.text();
    byId("assignment").value = file.name;
    await showAsked(this.engine);
  }

  async hear(recordings) {
    const asked = settings();
    if (!this.isClass(asked)) this.results = [];
    this.running += 1;
    this.stopped = false;
    const before = this.results.length;
    const progress = new Progress(recordings);
    const jobs = recordings.map(async (recording, k) => {
      const place = before + k;
      this.sounds.set(place, recording.sound);
      const request = { do: asked.assignment ? "review" : "identify", name: recording.name, rate_hz: recording.rate_hz, ...asked };
      const reply = await this.engine
        .hear(request, recording.load, (done, promised) => progress.part(k, done, promised))
        .catch((error) => ({ error: { message: error.message } }));
      if (reply.cancelled) return;
      progress.done(k);
      this.results[place] = { name: recording.name, ...reply };
      if (recordings.length > 1) this.soon();
    });
    await Promise.all(jobs);
    this.running -= 1;
    progress.end();
    await this.finish(recordings.length);
  }

  /** Whether what comes next is put beside what is there: recordings of a class that come one after another. */
  isClass(asked) {
    return Boolean(asked.assignment) && this.results.some((r) => r?.review || r?.error);
  }

  /** Shows what there is, not more than once a second. */
  soon() {
    this.timer ??= setTimeout(() => {
      this.timer = null;
      if (this.running) this.show();
    }, 1000);
  }

  async finish(count) {
    clearTimeout(this.timer);
    this.timer = null;
    // Places of recordings that were stopped stay empty and are closed up, their sounds with them.
    const places = this.results.map((r, k) => k).filter((k) => this.results[k]);
    this.sounds = new Map(places.map((place, k) => [k, this.sounds.get(place)]));
    this.results = places.map((place) => this.results[place]);
    await this.show();
    keep(this.results.map(({ milliseconds, ...result }) => (this.results.length > 1 && result.review ? { ...result, html: "" } : result)));
    this.announce(count);
  }

  announce(count) {
    const last = this.results.at(-1);
    const sentences = [];
    byId("state").scrollIntoView();
    if (this.stopped) sentences.push(say("progress.cancelled"));
    else if (count > 1) sentences.push(say("hear.done.many", { count: this.results.length }));
    else if (last?.error) sentences.push(say("hear.failed", { name: last.name }));
    else if (last?.title) sentences.push(say("hear.done.one", { name: last.name, title: last.title }));
    if (this.skipped) sentences.push(this.skipped);
    this.skipped = "";
    tell(byId("state"), sentences.join(" "), Boolean(count === 1 && last?.error));
  }

  async show() {
    const results = this.results.map((result, place) => ({ ...result, place })).filter((r) => r.name !== undefined);
    const place = byId("answers");
    const reviewed = results.some((r) => r.review);
    byId("keep").hidden = !results.length;
    byId("save-csv").hidden = !reviewed;
    if (reviewed && results.length > 1) return showClass(this, results);
    if (reviewed) return showSheet(this, results[0], place);
    const parts = results.map((result) => (results.length > 1 ? this.folded(result) : this.article(result)));
    place.replaceChildren(...parts);
  }

  /** The article about one recording. */
  article(result) {
    if (result.error) return failure(result);
    const box = made("div");
    box.append(fragment(result.html ?? ""));
    withPlayer(box, this.sounds.get(result.place));
    return box;
  }

  /** One of several: a line to open. */
  folded(result) {
    if (result.error) return failure(result);
    const box = made("details");
    box.append(made("summary", `${result.name}: ${result.title}`));
    box.append(this.article(result));
    return box;
  }

  clear() {
    this.engine.stop();
    this.results = [];
    this.sounds.clear();
    forget();
    byId("answers").replaceChildren();
    byId("keep").hidden = true;
    tell(byId("state"), say("keep.forgotten"));
  }
}

/** What is shown of a recording that could not be read. */
const failure = (result) => {
  const article = made("article", "", { class: "failed" });
  const top = made("p", "", { class: "eyebrow" });
  top.append(made("bdi", result.name));
  article.append(top, made("h2", say("verdict.error"), { class: "answer" }), made("p", result.error.message, { class: "told" }));
  return article;
};

/** How far the hearing has come. */
class Progress {
  constructor(recordings) {
    this.names = recordings.map((r) => r.name);
    this.parts = recordings.map(() => 0);
    this.count = 0;
    byId("progress").hidden = false;
    tell(byId("state"), "");
    this.draw(say("progress.many", { done: 0, count: this.names.length }));
  }

  part(place, done, promised) {
    this.parts[place] = promised > 0 ? Math.min(0.99, done / promised) : 0;
    if (this.names.length > 1) return this.draw();
    this.draw(say("progress.one", { name: this.names[0], done: clock(done) + (promised > 0 ? ` / ${clock(promised)}` : "") }));
  }

  done(place) {
    this.parts[place] = 1;
    this.count += 1;
    this.draw();
  }

  draw(words = say("progress.many", { done: this.count, count: this.names.length })) {
    byId("bar").value = this.parts.reduce((sum, part) => sum + part, 0) / this.parts.length;
    byId("progress-text").textContent = words;
  }

  end() {
    byId("progress").hidden = true;
  }
}

/** Shows what will be asked, while it is typed. */
const showAsked = async (engine) => {
  const shown = byId("asked-shown");
  const text = byId("assignment").value.trim();
  if (!text) {
    shown.replaceChildren();
    return;
  }
  const reply = await engine.ask({ do: "asked", assignment: tasksText ?? text });
  if (byId("assignment").value.trim() !== text) return;
  shown.classList.toggle("wrong", Boolean(reply.error));
  if (reply.error) shown.replaceChildren(made("p", reply.error.message));
  else if (reply.tasks) shown.replaceChildren(made("p", say("asked.tasks")));
  else shown.replaceChildren(...meanings(reply.meanings));
};

const meanings = (list) => {
  const words = (m) => ({ version: m.version, notes: m.notes.join(" "), sources: m.sources.join("; ") });
  if (list.length === 1) return [made("p", say("asked.one", words(list[0])))];
  const all = made("ul");
  all.append(...list.map((m) => made("li", say("asked.meaning", words(m)))));
  return [made("p", say("asked.many", { count: list.length })), all];
};
