// The microphone: samples as they are, with the level shown; nothing the browser would do to voices.
const LONGEST_S = 600;
/** Peaks below this, over two seconds, are very quiet; from this on, too loud. Full scale is 1. */
const QUIET = 0.02;
const LOUD = 0.98;

/** Samples in a block of the older way of listening. */
const BLOCK = 4096;

/** Hands each block of a source on. Where the page lies on the disk, some browsers refuse worklets: then the older way. */
const tapped = async (context, source, heard) => {
  const address = URL.createObjectURL(new Blob([CAPTURE], { type: "text/javascript" }));
  try {
    await context.audioWorklet.addModule(address);
    const capture = new AudioWorkletNode(context, "capture", { numberOfOutputs: 0 });
    capture.port.onmessage = ({ data }) => heard(data);
    source.connect(capture);
  } catch {
    const capture = context.createScriptProcessor(BLOCK, 1, 1);
    capture.onaudioprocess = (event) => heard(event.inputBuffer.getChannelData(0).slice());
    source.connect(capture).connect(context.destination);
  } finally {
    URL.revokeObjectURL(address);
  }
};

class Microphone {
  /** Opens it; `heard` is called with each block. */
  static async open(heard) {
    const stream = await navigator.mediaDevices.getUserMedia({
      audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false, channelCount: 1 },
    });
    const context = new AudioContext();
    const source = context.createMediaStreamSource(stream);
    await tapped(context, source, heard);
    await context.resume();
    return new Microphone(stream, context);
  }

  constructor(stream, context) {
    this.stream = stream;
    this.context = context;
    this.rate = context.sampleRate;
  }

  close() {
    for (const track of this.stream.getTracks()) track.stop();
    this.context.close();
  }
}

/** Blocks of samples in a row. */
class Take {
  constructor() {
    this.blocks = [];
    this.length = 0;
    this.peak = 0;
  }

  push(block) {
    this.blocks.push(block);
    this.length += block.length;
    let peak = 0;
    for (const sample of block) peak = Math.max(peak, Math.abs(sample));
    this.peak = Math.max(peak, this.peak * 0.985);
  }

  samples() {
    const all = new Float32Array(this.length);
    let at = 0;
    for (const block of this.blocks) {
      all.set(block, at);
      at += block.length;
    }
    this.blocks = [all];
    return all;
  }
}

/** A WAV file of samples (RIFF, 16-bit), for players. */
const wav = (samples, rate) => {
  const view = new DataView(new ArrayBuffer(44 + 2 * samples.length));
  const text = (at, letters) => [...letters].forEach((c, k) => view.setUint8(at + k, c.charCodeAt(0)));
  text(0, "RIFF");
  view.setUint32(4, 36 + 2 * samples.length, true);
  text(8, "WAVEfmt ");
  view.setUint32(16, 16, true);
  view.setUint16(20, 1, true);
  view.setUint16(22, 1, true);
  view.setUint32(24, rate, true);
  view.setUint32(28, 2 * rate, true);
  view.setUint16(32, 2, true);
  view.setUint16(34, 16, true);
  text(36, "data");
  view.setUint32(40, 2 * samples.length, true);
  samples.forEach((s, k) => view.setInt16(44 + 2 * k, Math.round(32767 * Math.max(-1, Math.min(1, s))), true));
  return new Blob([view], { type: "audio/wav" });
};

/** Shows a running recording in `place`: the level, the time, what to press. `buttons` are put below. */
class LevelShown {
  constructor(place, buttons) {
    this.words = made("p", "", { role: "status" });
    this.meter = made("div", "", { class: "meter", role: "meter", "aria-label": say("record.level"), "aria-valuemin": "0", "aria-valuemax": "100" });
    const drawing = document.createElementNS("http://www.w3.org/2000/svg", "svg");
    drawing.setAttribute("viewBox", "0 0 100 10");
    drawing.setAttribute("preserveAspectRatio", "none");
    this.rectangle = document.createElementNS("http://www.w3.org/2000/svg", "rect");
    this.rectangle.setAttribute("height", "10");
    drawing.append(this.rectangle);
    this.meter.append(drawing);
    const row = made("p", "", { class: "row" });
    row.append(...buttons);
    place.replaceChildren(this.words, this.meter, row);
    place.hidden = false;
    this.place = place;
  }

  show(peak, words) {
    // The scale is that of ears: the lower 50 dB fill the meter.
    const percent = Math.max(0, Math.min(100, 100 + 40 * Math.log10(Math.max(peak, 1e-5))));
    this.rectangle.setAttribute("width", percent.toFixed(1));
    this.meter.setAttribute("aria-valuenow", percent.toFixed(0));
    if (this.words.textContent !== words) this.words.textContent = words;
  }

  end() {
    this.place.hidden = true;
    this.place.replaceChildren();
  }
}

const levelWords = (take, seconds) => {
  const time = clock(seconds);
  if (take.peak >= LOUD) return say("record.loud", { time });
  if (seconds > 2 && take.peak < QUIET) return say("record.quiet", { time });
  return say("record.running", { time });
};

/** Records until it is stopped; gives the take with its rate, or null if it was thrown away. */
const record = async (place, state) => {
  const take = new Take();
  let microphone;
  try {
    microphone = await Microphone.open((block) => take.push(block));
  } catch (error) {
    tell(state, say("record.refused", { message: error.message }), true);
    return null;
  }
  return new Promise((resolve) => {
    const end = (result) => {
      clearInterval(ticking);
      microphone.close();
      shown.end();
      resolve(result);
    };
    const whole = () => end({ samples: take.samples(), rate: microphone.rate });
    const shown = new LevelShown(place, [
      button(say("record.stop"), whole, { class: "main" }),
      button(say("record.discard"), () => end(null)),
    ]);
    place.querySelector("button").focus();
    const ticking = setInterval(() => {
      const seconds = take.length / microphone.rate;
      shown.show(take.peak, levelWords(take, seconds));
      if (seconds < LONGEST_S) return;
      tell(state, say("record.longest"));
      whole();
    }, 120);
  });
};
