// Keys. A single key acts only on the choice in focus, never inside a text box, and not where
// the member turned single keys off.

import { made } from "./made.js";
import { explain, leaveNote } from "./notes.js";

const TEXT = "textarea, select, input:not([type=radio], [type=checkbox], [type=submit])";

const SINGLE = document.documentElement.dataset.singleKeys !== "off";

/** The option of the focused strip that shows this number. */
function option(target, key) {
  const strip = target.closest(".choice");
  return SINGLE && /^[1-9]$/.test(key) && strip ? strip.querySelectorAll("input")[Number(key) - 1] : null;
}

const HINTS = [["Tab", "next field"], ...(SINGLE ? [["1–9", "choose"]] : []), ["F1", "explain, or no answer"]];

/** Begins to listen, and says in the foot what there is. */
export function listen(form, nextProblem) {
  const hints = HINTS.map(([key, does]) => made("span", {}, made("kbd", {}, key), ` ${does}`));
  form.querySelector(".form-foot").append(made("span", { class: "key-hints", "data-own": "" }, ...hints));
  document.addEventListener("keydown", (event) => {
    const { key, target } = event;
    if (event.isComposing || event.defaultPrevented || event.altKey) return;
    if (key === "Enter" && (event.ctrlKey || event.metaKey)) {
      form.requestSubmit(form.querySelector(".form-foot button[data-key]"));
    } else if (event.ctrlKey || event.metaKey) {
      return;
    } else if (key === "F8") {
      nextProblem();
    } else if (key === "F1" || (SINGLE && key === "?" && !target.matches(TEXT))) {
      if (!explain(target)) return;
    } else if (key === "Escape") {
      if (!leaveNote(target)) return;
    } else {
      const chosen = option(target, key);
      if (!chosen) return;
      chosen.focus();
      chosen.click();
    }
    event.preventDefault();
  });
}
