// The notes beside the fields: explanations, and why there is no answer. Tab goes from field
// to field and passes them by; F1 goes into the note of the field in hand, Esc comes back.

import { controlOf } from "./places.js";

/** Takes the notes out of the way of Tab. */
export function fold(within) {
  for (const summary of within.querySelectorAll(".note summary")) summary.tabIndex = -1;
}

/** Opens the note of a field and goes there. */
export function explain(target) {
  const notes = target.closest(".field")?.querySelectorAll(".note details") ?? [];
  for (const note of notes) note.open = true;
  notes[0]?.querySelector("summary").focus();
  return notes.length > 0;
}

/** Back from a note into its field. */
export function leaveNote(target) {
  const note = target.closest(".field > .note");
  if (note) controlOf(note.closest(".field"))?.focus();
  return Boolean(note);
}
