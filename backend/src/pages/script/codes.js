// The codes of a long select or of a group of boxes, as the picker offers them. The select and
// the boxes go on holding what is chosen, and the form sends them.

import { made } from "./made.js";

const changed = (element) => element.dispatchEvent(new Event("change", { bubbles: true }));

function ofSelect(select) {
  const put = (value) => {
    select.value = value;
    changed(select);
  };
  return [...select.options]
    .filter((one) => one.value)
    .map((one) => ({
      value: one.value,
      label: one.text.trim(),
      about: one.dataset.about ?? "",
      isChosen: () => one.selected,
      choose: () => put(one.value),
      drop: () => put(""),
    }));
}

function ofBoxes(group) {
  const put = (box, checked) => {
    box.checked = checked;
    changed(box);
  };
  return [...group.querySelectorAll("input")].map((box) => ({
    value: box.value,
    label: box.closest("label").textContent.trim(),
    about: box.dataset.about ?? "",
    isChosen: () => box.checked,
    choose: () => put(box, true),
    drop: () => put(box, false),
  }));
}

/** The codes: their words, whether they are chosen, and how to choose and drop them. */
export const codesOf = (holder) => (holder.matches("select") ? ofSelect(holder) : ofBoxes(holder));

/** The chosen codes as small boxes, each with a button that takes it away. */
export function chips(codes, remove) {
  return codes.filter((code) => code.isChosen()).map((code) => {
    const button = made("button", { type: "button", "aria-label": `Remove ${code.label}` }, "×");
    button.addEventListener("click", () => remove(code));
    return made("span", { class: "chip" }, code.label, button);
  });
}
