// Checking an instrument's strings: from a recording, or while they are plucked.
const LONGEST_TUNING_S = 180;

const wanted = () => {
  const a4 = byId("strings-a4").value.trim().replace(",", ".");
  return {
    do: "tuning",
    strings: byId("strings").value.trim(),
    a4_hz: a4 === "" || a4 === "auto" ? null : Number(a4),
    temperament: byId("temperament").value,
    any_order: byId("any-order").checked,
  };
};

const showTuning = (reply, state) => {
  if (reply.cancelled) return 0;
  if (reply.error) {
    tell(state, reply.error.message, true);
    return 0;
  }
  byId("strings-answer").replaceChildren(fragment(reply.html));
  return reply.answer.strings.filter((s) => s.measured_hz !== null).length;
};

/** A request without strings is not sent. */
const hasStrings = () => {
  if (byId("strings").value.trim()) return true;
  tell(byId("strings-state"), say("strings.missing"), true);
  byId("strings").focus();
  return false;
};

const tuneFile = async (engine, file) => {
  const state = byId("strings-state");
  if (!hasStrings()) return;
  tell(state, say("progress.one", { name: file.name, done: "" }));
  const reply = await engine.hear({ ...wanted(), name: file.name, rate_hz: null }, () => file.arrayBuffer());
  tell(state, "");
  showTuning(reply, state);
};

/** Listens while strings are plucked: what has been heard so far is judged again and again until it is stopped. */
const tuneLive = async (engine) => {
  const state = byId("strings-state");
  if (!hasStrings()) return;
  const take = new Take();
  let microphone;
  try {
    microphone = await Microphone.open((block) => take.push(block));
  } catch (error) {
    tell(state, say("record.refused", { message: error.message }), true);
    return;
  }
  tell(state, "");
  let open = true;
  const stop = button(say("strings.stop"), () => (open = false), { class: "main" });
  const shown = new LevelShown(byId("strings-recorder"), [stop]);
  stop.focus();
  byId("listen").disabled = true;
  const seconds = () => take.length / microphone.rate;
  let count = 0;
  const ticking = setInterval(() => {
    shown.show(take.peak, say("strings.running", { time: clock(seconds()), count }));
    if (seconds() > LONGEST_TUNING_S) open = false;
  }, 120);
  for (;;) {
    await new Promise((resolve) => setTimeout(resolve, open ? 900 : 0));
    const last = !open;
    const samples = take.samples();
    const request = { ...wanted(), name: say("strings.name", { time: clock(seconds()) }), rate_hz: microphone.rate };
    const reply = await engine.hear(request, async () => samples.buffer.slice(0));
    // Before the first pluck there is nothing to say.
    if (!reply.error || last) count = showTuning(reply, state);
    if (last) break;
  }
  clearInterval(ticking);
  microphone.close();
  shown.end();
  byId("listen").disabled = false;
  byId("listen").focus();
};
