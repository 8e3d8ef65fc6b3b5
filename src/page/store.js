// What is kept: answers, never recordings, in the browser's own storage until they are forgotten.
const STORE = "whichmode.answers/1";
/** Answers of more characters than this are not kept: browsers allow about five million. */
const MOST_KEPT = 4000000;

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

/** A whole page of fragments that needs no scripts. */
const standalone = (title, html) => {
  const head = [
    '<meta charset="utf-8">',
    `<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">`,
    '<meta name="viewport" content="width=device-width, initial-scale=1">',
  ].join("");
  const shown = made("title", title).outerHTML;
  return `<!DOCTYPE html>\n<html lang="${say("language")}"><head>${head}${shown}<style>${STYLE}</style></head><body class="report"><main>${html}</main></body></html>\n`;
};
