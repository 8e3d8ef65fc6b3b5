// The label book: what a name means, or how scales relate.
const lookUp = async (engine) => {
  const state = byId("names-state");
  const text = byId("name").value.trim();
  if (!text) return;
  const german = byId("german").checked;
  const items = text.split(",").map((part) => part.trim()).filter(Boolean);
  const request = items.length > 1
    ? { do: "relate", items, german }
    : { do: "labels", name: text, root: byId("root").value.trim() || "D", german };
  const reply = await engine.ask(request);
  const place = byId("names-answer");
  if (reply.error) {
    place.replaceChildren();
    return tell(state, reply.error.message, true);
  }
  place.replaceChildren(fragment(reply.html));
  tell(state, [...place.querySelectorAll("h2, header p:last-child")].map((part) => part.textContent).join(": "));
  wakeScales(place, state);
};

const fillNames = async (engine) => {
  const [{ names }, sets] = [await engine.ask({ do: "names" }), await engine.ask({ do: "sets" })];
  byId("names-list").replaceChildren(...names.map((name) => made("option", "", { value: name })));
  const list = Object.values(sets).filter((set) => set?.name);
  byId("sets-list").replaceChildren(...list.map((set) => made("option", set.strings, { value: set.name })));
};
