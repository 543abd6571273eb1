// Fields come and go with the answers that make them relevant. The conditions are the
// dictionary's own, written into the page by the server; here they are only looked up. What
// stood in a field that went stays with it, in case it comes back.

/** Whether a condition holds for what is given. */
function holds(condition, given) {
  const [[kind, about]] = Object.entries(condition);
  if (kind === "all") return about.every((one) => holds(one, given));
  if (kind === "any") return about.some((one) => holds(one, given));
  const [key, wanted] = about;
  const values = given(key);
  if (values.length === 0) return false;
  if (kind === "at_least") return /^[+-]?\d+$/.test(values[0]) && Number(values[0]) >= wanted;
  return values.some((value) => wanted.includes(value.toLowerCase())) === (kind === "is");
}

/** What stands in the fields of one part; a reason stands for the value. */
function reader(fields, part) {
  return (key) => {
    const reason = fields.get(`${part}${key}-missing`);
    const values = reason ? [reason] : fields.getAll(part + key);
    return values.map((value) => value.trim()).filter((value) => value);
  };
}

/** The conditional fields of a form; `prepare` is given each one that appears. */
export function relevance(form, prepare) {
  const away = new Map();

  /** Puts a field in its place, as it was when it went. */
  function show(slot) {
    const row = away.get(slot.dataset.later) ?? document.importNode(slot.content, true).firstElementChild;
    if (!row) return;
    const before = slot.dataset.before
      .split(" ")
      .map((id) => id && document.getElementById(`${id}-row`))
      .find((one) => one?.parentElement === slot.parentElement);
    slot.parentElement.insertBefore(row, before ?? slot.parentElement.querySelector(":scope > .more, :scope > template"));
    if (!away.delete(slot.dataset.later)) prepare(row);
  }

  /** Takes a field out of the form. */
  function hide(row) {
    away.set(row.id.replace(/-row$/, ""), row);
    row.remove();
  }

  /** Looks at every conditional field; gives back whether one came or went. */
  function once() {
    const fields = new FormData(form);
    let moved = false;
    for (const slot of form.querySelectorAll("template[data-later]")) {
      const row = document.getElementById(`${slot.dataset.later}-row`);
      const relevant = holds(JSON.parse(slot.dataset.when), reader(fields, slot.dataset.part));
      if (relevant === Boolean(row) || row?.contains(document.activeElement)) continue;
      if (relevant) show(slot);
      else hide(row);
      moved = true;
    }
    return moved;
  }

  return {
    hide,
    /** Whether a condition decides about a field; an answer to what was asked before must not. */
    decides: (row) => Boolean(form.querySelector(`template[data-later="${row.id.replace(/-row$/, "")}"]`)),
    update() {
      // What comes or goes may decide about more.
      for (let round = 0; round < 4 && once(); round += 1);
    },
    /** A field that the server shows and that went before. */
    laidBy(id) {
      const key = id.replace(/-row$/, "");
      const row = away.get(key);
      away.delete(key);
      return row;
    },
  };
}
