// Words: everything that the page says comes from one table, which the module gets too.
const WORDS = JSON.parse(WORDS_TEXT);
const say = (key, values = {}) =>
  (WORDS[key] ?? key).replace(/\{(\w+)\}/g, (all, name) => (name in values ? String(values[name]) : all));

const clock = (seconds) => {
  const whole = Math.floor(seconds);
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
};

/** Fills in the words of the page's own markup. */
const fillWords = () => {
  document.documentElement.lang = say("language");
  document.title = `whichmode: ${say("page.title")}`;
  for (const part of document.querySelectorAll("[data-say]")) part.textContent = say(part.dataset.say);
  for (const part of document.querySelectorAll("[data-label]")) part.setAttribute("aria-label", say(part.dataset.label));
  for (const part of document.querySelectorAll("[data-placeholder]")) part.placeholder = say(part.dataset.placeholder);
};

const byId = (id) => document.getElementById(id);

/** An element with a text and, if given, attributes. */
const made = (tag, text = "", attributes = {}) => {
  const part = document.createElement(tag);
  part.textContent = text;
  for (const [name, value] of Object.entries(attributes)) part.setAttribute(name, value);
  return part;
};

const button = (text, pressed, attributes = {}) => {
  const part = made("button", text, { type: "button", ...attributes });
  part.addEventListener("click", pressed);
  return part;
};

/** Tells a sentence where screen readers hear it. */
const tell = (place, sentence, isWrong = false) => {
  place.replaceChildren(made("p", sentence, isWrong ? { class: "wrong" } : {}));
};
