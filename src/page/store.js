// What is kept: answers, never recordings, in the browser's own storage until they are forgotten.
const STORE = "whichmode.answers/1";
/** Answers of more characters than this are not kept: browsers allow about five million. */
const MOST_KEPT = 4000000;
/** A recording of more bytes than this is not put into a page: mail bears no more. */
const MOST_EMBEDDED = 24 * 2 ** 20;
/** Where it is kept that note names are German ones. */
const NOTATION = "whichmode.notation/1";

const keepNotation = (isGerman) => {
  try {
    if (isGerman) localStorage.setItem(NOTATION, "german");
    else localStorage.removeItem(NOTATION);
  } catch {
    // As with the answers.
  }
};

const keptNotation = () => {
  try {
    return localStorage.getItem(NOTATION) === "german";
  } catch {
    return false;
  }
};

const keep = (answers) => {
  const text = JSON.stringify(answers);
  try {
    if (text.length > MOST_KEPT) localStorage.removeItem(STORE);
    else localStorage.setItem(STORE, text);
  } catch {
    // Without storage the page works all the same; the answers last as long as the tab.
  }
};

const kept = () => {
  try {
    return JSON.parse(localStorage.getItem(STORE) ?? "null");
  } catch {
    return null;
  }
};

const forget = () => {
  try {
    localStorage.removeItem(STORE);
    localStorage.removeItem(NOTATION);
  } catch {
    // Nothing was kept.
  }
};

/** Hands a file to the browser's downloads. */
const save = (name, text, type) => {
  const address = URL.createObjectURL(new Blob([text], { type }));
  const link = made("a", "", { href: address, download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(address), 10000);
};

/** Saves fragments as a whole page that needs no scripts, with its sound in it where there is one. */
const savePage = async (engine, name, title, html, sound) => {
  const request = { do: "document", title, html: cleanedHtml(html), sound_name: name };
  const reply = await engine.ask(request, sound && sound.size <= MOST_EMBEDDED ? await sound.arrayBuffer() : undefined);
  save(`${name.replace(/\.[^.]*$/, "").replace(/[/\\]/g, "-") || "whichmode"}.html`, reply.file, "text/html;charset=utf-8");
};
