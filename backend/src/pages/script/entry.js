// Entering a case. The form works without this; with it the draft saves itself, the registry
// checks each field as it is left, and hardly a key is pressed that says nothing.

import { findPickers } from "./picker.js";
import { followFocus, focusPlace, nextProblem } from "./places.js";
import { fold } from "./notes.js";
import { listen } from "./keys.js";
import { drawing } from "./redraw.js";
import { relevance } from "./relevant.js";
import { notice } from "./notice.js";
import { saving } from "./saving.js";

const form = document.querySelector("form.entry");
document.documentElement.classList.add("with-keys");

/** What every field gets, at the start and when it appears. */
function prepare(within) {
  findPickers(within);
  fold(within);
}

prepare(form);
listen(form, nextProblem);
followFocus(form);
// The browser itself goes to the anchor in the first frame of the loaded page, and takes the
// focus away from everything else.
if (document.readyState === "complete") requestAnimationFrame(start);
else addEventListener("load", () => requestAnimationFrame(start));
// Where two versions stand side by side, a person decides; nothing is saved before.
if (form.elements.version && !form.querySelector(".merge")) begin();

/** A page that lists what must be mended has the focus there; any other begins in its field. */
function start() {
  const taken = document.activeElement !== document.body || document.querySelector(".error-summary");
  if (taken || focusPlace(location.hash.slice(1))) return;
  if (!form.elements.version) focusPlace("strategy_intended");
}

function begin() {
  const tell = notice(form);
  const relevant = relevance(form, prepare);
  const draw = drawing(form, relevant, prepare);
  const saver = saving(form, { draw, tell });
  const changed = (event) => {
    if (!event.target.name) return;
    relevant.update();
    saver.soon();
  };
  form.addEventListener("input", changed);
  form.addEventListener("change", changed);
  form.addEventListener("focusout", () => (saver.unsaved() ? saver.now() : draw.heldBack()));
  form.addEventListener("submit", (event) => saver.beforeSubmit(event));
  addEventListener("beforeunload", (event) => saver.beforeLeaving(event));
  addEventListener("online", () => saver.again());
  document.addEventListener("visibilitychange", () => (document.hidden ? saver.now() : saver.again()));
}
