// The draft saves itself: a moment after a change and whenever a field is left. One save is on
// its way at a time. One whose answer was lost is sent again exactly as it was, because the
// registry may have kept it.

import { send } from "./sending.js";

const SOON = 500;
const PAUSES = [2, 4, 8, 15, 30, 60];

/** What stands in the form, without what every save brings anew. */
function written(form) {
  const fields = new URLSearchParams(new FormData(form));
  fields.delete("version");
  fields.delete("form_token");
  // What is ticked to be taken of a dose report is taken when somebody saves.
  for (const name of [...fields.keys()]) if (name.startsWith("take-")) fields.delete(name);
  return fields.toString();
}

/** Keeps a form saved; `draw` takes the page that comes back, `tell` what stands in the way. */
export function saving(form, { draw, tell }) {
  let kept = written(form);
  let unsure = null;
  let running = null;
  let timer = null;
  let failures = 0;
  let leaving = false;
  let over = false;

  const unsaved = () => unsure !== null || written(form) !== kept;

  function later(seconds) {
    clearTimeout(timer);
    timer = setTimeout(now, seconds * 1000);
  }

  /** How the registry read what it keeps, now shown in the form: no change of a person's. */
  function readAs(name, value) {
    const fields = new URLSearchParams(kept);
    if (fields.getAll(name).length !== 1) return;
    fields.set(name, value);
    kept = fields.toString();
  }

  async function once() {
    const fields = unsure ?? written(form);
    const { state, detail, saved } = await send(form, fields);
    unsure = state === "lost" || state === "busy" ? fields : null;
    over = state === "overtaken";
    if (saved) {
      kept = fields;
      failures = 0;
      form.elements.version.value = saved.version;
      draw.page(saved.page, fields, { unsaved, readAs });
    }
    tell(state, detail);
    if (unsure !== null) later(PAUSES[Math.min(failures++, PAUSES.length - 1)]);
    return Boolean(saved);
  }

  async function all() {
    while (unsaved()) if (over || !(await once())) return false;
    return true;
  }

  function now() {
    clearTimeout(timer);
    running ??= all().finally(() => (running = null));
    return running;
  }

  return {
    unsaved,
    now,
    soon: () => later(SOON / 1000),
    again: () => unsaved() && now(),
    /** Everything is saved before the form goes the normal way; Enter in a box only saves. */
    beforeSubmit(event) {
      const { submitter } = event;
      leaving ||= submitter.dataset.compare !== undefined || submitter.value === "discard";
      if (leaving) return;
      event.preventDefault();
      now().then((saved) => {
        const takes = form.querySelector("[name^='take-']:checked");
        if (!saved || (submitter.value === "save" && !takes)) return;
        leaving = true;
        // A form cannot be sent again while its own sending is still under way.
        setTimeout(() => form.requestSubmit(submitter));
      });
    },
    beforeLeaving(event) {
      if (leaving || !unsaved()) return;
      event.preventDefault();
      now();
    },
  };
}
