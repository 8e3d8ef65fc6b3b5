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
  // A score, and sound in a coding that only we read, can be answered but not played.
  player.addEventListener("error", () => place.replaceChildren(made("p", say("player.unplayable"), { class: "small" })));
  player.src = URL.createObjectURL(sound);
  place.replaceChildren(player);
  wakeMoments(article, player);
  for (const drawing of article.querySelectorAll("svg.line")) wakeLine(drawing, player);
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

/** A press on the drawn line plays from there; a mark goes along, of several passages in the one that sounds. */
const wakeLine = (drawing, player) => {
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
    if (x < left || x > drawing.viewBox.baseVal.width) mark.remove();
    else if (!mark.isConnected) drawing.append(mark);
  });
};

/** Wakes the buttons that play a scale: `make` gives the sound of a place among those shown, or of all with none. */
const wakeScales = (part, state, make) => {
  const player = made("audio", "", { controls: "", "aria-label": say("play.player") });
  for (const play of part.querySelectorAll("[data-play]")) {
    play.hidden = false;
    play.addEventListener("click", async () => {
      tell(state, say("play.making"));
      const reply = await make(play.dataset.play === "" ? null : Number(play.dataset.play));
      if (reply.error) return tell(state, reply.error.message, true);
      const bytes = Uint8Array.from(atob(reply.wav), (c) => c.charCodeAt(0));
      URL.revokeObjectURL(player.src);
      player.src = URL.createObjectURL(new Blob([bytes], { type: "audio/wav" }));
      play.after(player);
      tell(state, say("play.quiet", { title: reply.title }));
      player.play().catch(() => {});
    });
  }
};
