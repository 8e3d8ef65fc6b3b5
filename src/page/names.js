// The label book: what a name means, how scales relate, and how they sound.
const lookUp = async (engine) => {
  const state = byId("names-state");
  const text = byId("name").value.trim();
  if (!text) return;
  const wanted = { text, root: byId("root").value.trim() || "D", strings: byId("names-neck").value.trim() };
  const reply = await engine.ask({ do: "look_up", ...wanted });
  const place = byId("names-answer");
  if (reply.error) {
    place.replaceChildren();
    return tell(state, reply.error.message, true);
  }
  place.replaceChildren(fragment(reply.html));
  const heads = [...place.querySelectorAll("h2, header p:last-child")].map((part) => part.textContent);
  tell(state, heads.join(": "));
  wakeScales(place, state, (which) => engine.ask({ do: "play", place: which, ...wanted }));
};

const fillNames = async (engine) => {
  const [{ names }, sets] = [await engine.ask({ do: "names" }), await engine.ask({ do: "sets" })];
  byId("names-list").replaceChildren(...names.map((name) => made("option", "", { value: name })));
  const list = Object.values(sets).filter((set) => set?.name);
  byId("sets-list").replaceChildren(...list.map((set) => made("option", set.strings, { value: set.name })));
};
