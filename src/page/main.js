// The page itself: its doors, its buttons, and what was kept from the last visit.
const wakeDoors = () => {
  const tabs = [...document.querySelectorAll("[role=tab]")];
  const open = (tab) => {
    for (const other of tabs) {
      const chosen = other === tab;
      other.setAttribute("aria-selected", String(chosen));
      other.tabIndex = chosen ? 0 : -1;
      byId(other.getAttribute("aria-controls")).hidden = !chosen;
    }
  };
  tabs.forEach((tab, k) => {
    tab.addEventListener("click", () => open(tab));
    tab.addEventListener("keydown", (event) => {
      const move = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
      if (!move) return;
      const next = tabs[(k + move + tabs.length) % tabs.length];
      open(next);
      next.focus();
    });
  });
};

const wakeDrop = (desk) => {
  const target = byId("drop");
  const over = (event, is) => {
    event.preventDefault();
    target.classList.toggle("over", is);
  };
  document.addEventListener("dragover", (event) => over(event, true));
  document.addEventListener("dragleave", (event) => over(event, false));
  document.addEventListener("drop", async (event) => {
    over(event, false);
    desk.files(await dropped(event.dataTransfer));
  });
};

const wakeChoosing = (desk) => {
  for (const [press, input] of [["choose", "files"], ["choose-folder", "folder"]]) {
    byId(press).addEventListener("click", () => byId(input).click());
    byId(input).addEventListener("change", () => {
      const chosen = [...byId(input).files];
      byId(input).value = "";
      desk.files(chosen);
    });
  }
  byId("record").addEventListener("click", async () => {
    byId("record").disabled = true;
    const take = await record(byId("recorder"), byId("state"));
    byId("record").disabled = false;
    byId("record").focus();
    if (take?.samples.length) await desk.hear([fromTake(say("record.name", { time: new Date().toLocaleTimeString() }), take)]);
  });
};

const wakeAsked = (engine) => {
  let timer;
  const later = () => {
    clearTimeout(timer);
    timer = setTimeout(() => showAsked(engine), 150);
  };
  byId("assignment").addEventListener("input", () => {
    tasksText = null;
    later();
  });
  byId("german").addEventListener("change", later);
  byId("german").addEventListener("change", () => keepNotation(byId("german").checked));
  byId("asked").addEventListener("submit", (event) => {
    event.preventDefault();
    showAsked(engine);
  });
};

const wakeKeeping = (desk) => {
  byId("cancel").addEventListener("click", () => {
    desk.stopped = true;
    desk.engine.stop();
  });
  byId("forget").addEventListener("click", () => desk.clear());
  byId("print").addEventListener("click", () => printAll(desk));
  byId("save-csv").addEventListener("click", async () => {
    const reply = await desk.engine.ask({ do: "class", submissions: desk.results.map(told) });
    save("whichmode.csv", reply.csv, "text/csv;charset=utf-8");
  });
  byId("save-report").addEventListener("click", async () => {
    const results = desk.results;
    const parts = results.some((r) => r.review) && results.length > 1
      ? [(await desk.engine.ask({ do: "class", submissions: results.map(told) })).html]
      : [];
    for (const result of results) {
      if (result.review) parts.push((await desk.engine.ask(sheetOf(result))).html);
      if (result.html && results.length === 1) parts.push(result.html);
      else if (result.html && !result.review) parts.push(result.html);
    }
    const one = results.length === 1 ? results[0] : null;
    const title = one ? one.title ?? one.name : document.title;
    await savePage(desk.engine, one?.name ?? say("keep.file"), title, parts.join("\n"), one ? desk.sounds.get(0) : null);
  });
};

const wakeStrings = (engine) => {
  byId("tuning").addEventListener("submit", (event) => {
    event.preventDefault();
    tuneLive(engine);
  });
  byId("choose-strings").addEventListener("click", () => byId("strings-file").click());
  byId("strings-file").addEventListener("change", () => {
    const [file] = byId("strings-file").files;
    byId("strings-file").value = "";
    if (file) tuneFile(engine, file);
  });
};

const restore = async (desk) => {
  const results = kept();
  if (!Array.isArray(results) || !results.length) return;
  desk.results = results;
  await desk.show();
  tell(byId("state"), say("keep.restored"));
};

const begin = async () => {
  fillWords();
  byId("german").checked = keptNotation();
  wakeDoors();
  const engine = new Engine();
  const desk = new Desk(engine);
  wakeDrop(desk);
  wakeChoosing(desk);
  wakeAsked(engine);
  wakeKeeping(desk);
  wakeStrings(engine);
  byId("lookup").addEventListener("submit", (event) => {
    event.preventDefault();
    lookUp(engine);
  });
  try {
    await fillNames(engine);
    await restore(desk);
    document.body.dataset.ready = "yes";
  } catch (error) {
    tell(byId("state"), say("module.failed", { message: error.message }), true);
  }
};

begin();
