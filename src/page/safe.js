// Fragments come from the module or from the browser's storage. Whatever they hold, only these elements and attributes
// get into the page, beside the policy in its head.
const TAGS = new Set(
  ("article header section div p h2 h3 span b bdi a ul ol li dl dt dd table thead tbody tr th td figure figcaption details summary button " +
    "svg g title line circle rect polyline polygon text").split(" ")
);
const ATTRIBUTES = new Set(
  ("class role tabindex aria-label aria-hidden hidden type scope viewbox width height x y x1 y1 x2 y2 cx cy r rx points " +
    "stroke-width font-size font-weight text-anchor data-at data-row data-sort data-play data-left data-second data-start data-top data-floor").split(" ")
);

const cleaned = (node) => {
  for (const child of [...node.children]) {
    if (!TAGS.has(child.localName)) {
      child.remove();
      continue;
    }
    for (const { name } of [...child.attributes]) {
      if (!ATTRIBUTES.has(name.toLowerCase())) child.removeAttribute(name);
    }
    cleaned(child);
  }
  return node;
};

const cleanedBody = (html) => cleaned(new DOMParser().parseFromString(html, "text/html").body);

/** A fragment as text again, nothing in it that could act. */
const cleanedHtml = (html) => cleanedBody(html).innerHTML;

/** The elements of a fragment, nothing in them that could act. */
const fragment = (html) => {
  const out = document.createDocumentFragment();
  out.append(...cleanedBody(html).childNodes);
  return out;
};
