// Where one is: the address follows the focus, and every way to a field ends in its control.

/** The control of a row that takes the focus. */
export function controlOf(row) {
  const box = row.querySelector(".control") ?? row;
  return (
    box.querySelector("[role=combobox]") ??
    box.querySelector("input:checked") ??
    box.querySelector("input:not([type=hidden]), select, textarea")
  );
}

/** Whether nothing stands in a row yet. */
function isEmpty(row) {
  const controls = row.querySelectorAll(".control :is(input, select, textarea)[name]");
  return [...controls].every((one) => (/^(radio|checkbox)$/.test(one.type) ? !one.checked : !one.value));
}

/** Puts the focus where an anchor leads: into a field, or into the first empty one of a section. */
export function focusPlace(id) {
  const place = id && document.getElementById(id);
  if (!place) return false;
  const row = place.closest(".field");
  const rows = row ? [row] : [...place.querySelectorAll(".field")].filter((one) => controlOf(one));
  const wanted = rows.find((one) => row || isEmpty(one)) ?? rows[0];
  if (!wanted) return false;
  for (let fold = wanted.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true;
  controlOf(wanted)?.focus();
  return wanted.contains(document.activeElement);
}

/** To the next field that must be mended; where there is none, to the next one to answer. */
export function nextProblem() {
  const here = document.activeElement;
  for (const kind of [".field.must-be-mended", ".field.to-answer"]) {
    const rows = [...document.querySelectorAll(kind)];
    const after = (row) =>
      !row.contains(here) && here.compareDocumentPosition(row) & Node.DOCUMENT_POSITION_FOLLOWING;
    const next = rows.find(after) ?? rows[0];
    if (next) return focusPlace(next.id);
  }
  return false;
}

/** The address names the field in hand, so that signing in again comes back to it. */
export function followFocus(form) {
  form.addEventListener("focusin", (event) => {
    const row = event.target.closest(".field[id]");
    if (row) history.replaceState(history.state, "", `#${row.id.replace(/-row$/, "")}`);
  });
  document.addEventListener("click", (event) => {
    const link = event.target.closest?.("main a[href^='#']");
    if (link && focusPlace(link.hash.slice(1))) event.preventDefault();
  });
}
