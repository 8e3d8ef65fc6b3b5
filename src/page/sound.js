// Sound: the player of a recording, moments that stand in it, and scales that are played.

/** Puts a player into an article, and wakes its moments and its drawn line. `sound` is a Blob, or none if it is gone. */
const withPlayer = (article, sound) => {
  const place = article.querySelector(".player-place");
  if (!place) return;
  if (!sound) {
    place.replaceChildren(made("p", say("player.gone"), { class: "small" }));
    return;
  }
  const player = made("audio", "", { controls: "", preload: "metadata", "aria-label": say("player.play") });
  player.src = URL.createObjectURL(sound);
  place.replaceChildren(player);
  wakeMoments(article, player);
  wakeLine(article, player);
};

const playFrom = (player, seconds) => {
  player.currentTime = Math.max(0, seconds);
  player.play().catch(() => {});
};

const wakeMoments = (part, player) => {
  for (const moment of part.querySelectorAll("[data-at]")) {
    wake(moment, () => playFrom(player, Number(moment.dataset.at)));
  }
};

/** Makes an element something to press. */
const wake = (part, pressed) => {
  part.setAttribute("role", "button");
  part.setAttribute("tabindex", "0");
  part.addEventListener("click", pressed);
  part.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" && event.key !== " ") return;
    event.preventDefault();
    pressed();
  });
};

/** A press on the drawn line plays from there; a mark goes along. */
const wakeLine = (article, player) => {
  const drawing = article.querySelector("svg.line");
  if (!drawing) return;
  const { left, second, start, top, floor } = Object.fromEntries(
    Object.entries(drawing.dataset).map(([name, value]) => [name, Number(value)])
  );
  drawing.classList.add("played");
  drawing.addEventListener("click", (event) => {
    const place = new DOMPoint(event.clientX, event.clientY).matrixTransform(drawing.getScreenCTM().inverse());
    playFrom(player, start + (place.x - left) / second);
  });
  const mark = document.createElementNS("http://www.w3.org/2000/svg", "line");
  mark.setAttribute("class", "playhead");
  mark.setAttribute("y1", top);
  mark.setAttribute("y2", floor);
  player.addEventListener("timeupdate", () => {
    const x = left + second * (player.currentTime - start);
    mark.setAttribute("x1", x);
    mark.setAttribute("x2", x);
    if (!mark.isConnected) drawing.append(mark);
  });
};

/** A note's length and how loud it is at its loudest, full scale 1: quiet, as ears may be near. */
const NOTE_SECONDS = 0.42;
const NOTE_LEVEL = 0.18;
/** Partials of the played tone: like a plucked string, each weaker than the one below. */
const PARTIALS = [0, 1, 0.5, 0.3, 0.16, 0.08];

let stage = null;

/** Plays MIDI keys one after another. */
const playKeys = (keys) => {
  stage?.close();
  stage = new AudioContext();
  const wave = stage.createPeriodicWave(PARTIALS.map(() => 0), PARTIALS);
  keys.forEach((key, k) => {
    const begin = stage.currentTime + 0.08 + k * NOTE_SECONDS;
    const tone = stage.createOscillator();
    const loud = stage.createGain();
    tone.setPeriodicWave(wave);
    tone.frequency.value = 440 * 2 ** ((key - 69) / 12);
    loud.gain.setValueAtTime(0.0001, begin);
    loud.gain.exponentialRampToValueAtTime(NOTE_LEVEL, begin + 0.012);
    loud.gain.exponentialRampToValueAtTime(0.0001, begin + 2 * NOTE_SECONDS);
    tone.connect(loud).connect(stage.destination);
    tone.start(begin);
    tone.stop(begin + 2.1 * NOTE_SECONDS);
  });
};

/** Wakes the buttons that play a scale. */
const wakeScales = (part, state) => {
  for (const play of part.querySelectorAll("[data-play]")) {
    play.hidden = false;
    play.addEventListener("click", () => {
      playKeys(play.dataset.play.split(" ").map(Number));
      tell(state, play.getAttribute("aria-label"));
    });
  }
};
