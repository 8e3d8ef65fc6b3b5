// A class: the table with its moments, a student's sheet, sorting, the table as a file.
const told = (result) => ({ file: result.name, review: result.review ?? null, error: result.error?.message ?? "" });

const sheetOf = (result) => ({ do: "sheet", submission: told(result), strings: byId("neck").value.trim() });

const showClass = async (desk, results) => {
  const reply = await desk.engine.ask({ do: "class", submissions: results.map(told) });
  if (reply.error) return tell(byId("state"), reply.error.message, true);
  desk.csv = reply.csv;
  const box = made("div");
  box.append(fragment(reply.html));
  const player = made("audio", "", { controls: "", preload: "metadata", "aria-label": say("player.play"), hidden: "" });
  box.querySelector(".class-table")?.prepend(player);
  for (const row of box.querySelectorAll("tr[data-row]")) {
    const result = results[Number(row.dataset.row)];
    wakeRow(desk, result, row, player);
  }
  wakeSorting(box);
  const focused = document.activeElement?.closest?.("#answers") ? document.activeElement.textContent : null;
  byId("answers").replaceChildren(box);
  if (focused) [...box.querySelectorAll("button")].find((b) => b.textContent === focused)?.focus();
};

const wakeRow = (desk, result, row, player) => {
  const name = row.querySelector("th bdi");
  if (name) {
    const open = button("", () => showOne(desk, result), { class: "open" });
    name.replaceWith(open);
    open.append(name);
  }
  const sound = desk.sounds.get(result.place);
  for (const moment of row.querySelectorAll("[data-at]")) {
    if (!sound) continue;
    wake(moment, () => {
      if (player.dataset.place !== String(result.place)) {
        player.dataset.place = result.place;
        player.src = URL.createObjectURL(sound);
        player.hidden = false;
      }
      playFrom(player, Number(moment.dataset.at));
    });
  }
};

const showOne = async (desk, result) => {
  const place = byId("answers");
  place.replaceChildren();
  if (result.error) place.append(failure(result));
  await showSheet(desk, result, place);
  const back = button(say("class.back"), () => desk.show(), { class: "class-back" });
  const row = made("p", "", { class: "row class-back-row" });
  row.append(back, ...(result.review ? sheetButtons(desk, result) : []));
  place.prepend(row);
  back.focus();
};

/** What hands a student's sheet on: as a page with its sound, or printed. */
const sheetButtons = (desk, result) => [
  button(say("keep.sheet"), async () => {
    const reply = await desk.engine.ask(sheetOf(result));
    if (!reply.error) await savePage(desk.engine, result.name, result.name, reply.html, desk.sounds.get(result.place));
  }),
  button(say("keep.print_sheet"), () => print()),
];

/** Shows the sheet of a student, the whole answer about the recording folded below it. */
const showSheet = async (desk, result, place) => {
  if (!result.review) return;
  const reply = await desk.engine.ask(sheetOf(result));
  if (reply.error) return;
  const box = made("div");
  box.append(fragment(reply.html));
  withPlayer(box, desk.sounds.get(result.place));
  place.replaceChildren(box);
  if (!result.html) return;
  const whole = made("details");
  whole.append(made("summary", say("class.hearing", { title: result.title })), desk.article(result));
  place.append(whole);
};

/** Prints what is shown; of a class also the sheet of each student, on pages of their own. */
const printAll = async (desk) => {
  const place = byId("answers");
  if (place.querySelector("article.class")) {
    const sheets = made("div", "", { class: "sheets" });
    for (const result of desk.results) {
      const reply = await desk.engine.ask(sheetOf(result));
      if (reply.html) sheets.append(fragment(reply.html));
    }
    place.append(sheets);
    addEventListener("afterprint", () => sheets.remove(), { once: true });
  }
  print();
};

/** Heads of the table become buttons that sort by their column; need of attention is the first order. */
const wakeSorting = (box) => {
  const heads = [...box.querySelectorAll(".class-table thead th")];
  const body = box.querySelector(".class-table tbody");
  if (!body) return;
  heads[1]?.setAttribute("aria-sort", "ascending");
  heads.forEach((head, column) => {
    const words = head.textContent;
    const press = () => {
      const up = head.getAttribute("aria-sort") !== "ascending";
      for (const other of heads) other.removeAttribute("aria-sort");
      head.setAttribute("aria-sort", up ? "ascending" : "descending");
      const key = (row) => row.children[column].dataset.sort ?? "";
      const order = (a, b) => key(a).localeCompare(key(b), undefined, { numeric: true }) * (up ? 1 : -1);
      body.append(...[...body.rows].sort(order));
    };
    head.replaceChildren(button(words, press, { class: "sorter", title: say("class.sort", { column: words }) }));
  });
};
