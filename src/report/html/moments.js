"use strict";
// A press on a moment, or on the drawn line, plays the sound of the report from there.
(() => {
  const player = document.querySelector("audio.player");
  if (!player) return;
  const play = (seconds) => {
    player.currentTime = Math.max(0, seconds);
    player.play().catch(() => {});
  };
  for (const moment of document.querySelectorAll("[data-at]")) {
    moment.setAttribute("role", "button");
    moment.setAttribute("tabindex", "0");
  }
  const pressed = (event) => {
    const moment = event.target.closest("[data-at]");
    if (!moment) return;
    event.preventDefault();
    play(Number(moment.dataset.at));
  };
  document.addEventListener("click", pressed);
  document.addEventListener("keydown", (event) => {
    if (event.key === "Enter" || event.key === " ") pressed(event);
  });
})();
