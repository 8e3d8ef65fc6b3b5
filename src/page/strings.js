// Checking an instrument's strings: from a recording, or while they are plucked.
const LONGEST_TUNING_S = 1800;
/** How often the strings' sound is handed on, in milliseconds. */
const HAND_ON_MS = 200;

const wanted = () => {
  const a4 = byId("strings-a4").value.trim().replace(",", ".");
  return {
    strings: byId("strings").value.trim(),
    a4_hz: a4 === "" || a4 === "auto" ? null : Number(a4),
    temperament: byId("temperament").value,
    any_order: byId("any-order").checked,
  };
};

/** Shows the strings; gives how many of them were heard. */
const showTuning = (reply, state) => {
  if (reply.cancelled) return 0;
  if (reply.error) {
    tell(state, reply.error.message, true);
    return 0;
  }
  byId("strings-answer").replaceChildren(fragment(reply.html));
  return reply.answer.strings.filter((s) => s.measured_hz !== null).length;
};

const tuneFile = async (engine, file) => {
  const state = byId("strings-state");
  tell(state, say("progress.one", { name: file.name, done: "" }));
  const reply = await engine.hear({ do: "tuning", ...wanted(), name: file.name, rate_hz: null }, () => file.arrayBuffer());
  const count = showTuning(reply, state);
  if (!reply.error) tell(state, say("strings.done", { name: file.name, count }));
};

/** Listens while strings are plucked. Each piece of sound is heard once, by a worker of its own, until it is stopped. */
const tuneLive = async (engine) => {
  const state = byId("strings-state");
  let pending = new Take();
  let microphone;
  try {
    microphone = await Microphone.open((block) => pending.push(block));
  } catch (error) {
    tell(state, say("record.refused", { message: error.message }), true);
    return;
  }
  byId("listen").disabled = true;
  const name = say("strings.name", { time: new Date().toLocaleTimeString() });
  const hand = await engine.own();
  const begun = await hand.ask(asked({ do: "listen", ...wanted(), name, rate_hz: microphone.rate }));
  tell(state, begun.error?.message ?? "", Boolean(begun.error));
  if (!begun.error) await listenOn(hand, microphone, state, () => {
    const take = pending;
    pending = new Take();
    pending.peak = take.peak;
    return take;
  });
  microphone.close();
  hand.end();
  byId("listen").disabled = false;
  byId("listen").focus();
};

/** Hands on what `drain` gives until it is stopped; then the answer is measured over the whole of each pluck. */
const listenOn = async (hand, microphone, state, drain) => {
  let open = true;
  const stop = button(say("strings.stop"), () => (open = false), { class: "main" });
  const shown = new LevelShown(byId("strings-recorder"), [stop]);
  stop.focus();
  let seconds = 0;
  let count = 0;
  while (open && seconds < LONGEST_TUNING_S) {
    await new Promise((resolve) => setTimeout(resolve, HAND_ON_MS));
    const take = drain();
    seconds += take.length / microphone.rate;
    const reply = await hand.ask({ do: "push", german: german() }, take.samples().buffer);
    if (reply.html) count = showTuning(reply, state);
    if (reply.error) tell(state, reply.error.message, true);
    else if (reply.told.length) tell(state, reply.told.join(" "));
    shown.show(take.peak, say("strings.running", { time: clock(seconds), count }));
  }
  shown.end();
  const last = await hand.ask({ do: "end", german: german() });
  // Before the first pluck there is nothing to say.
  if (!last.error || count) showTuning(last, state);
};
