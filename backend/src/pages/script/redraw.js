// Puts what the server has drawn into the page: messages, echoes, the strand, the counts, the
// foot. What a person typed, where the focus is, and which folds are open is never touched.

const CONTROLS = "input, select, textarea";
const TYPED = "input:not([type=radio], [type=checkbox], [type=hidden]), textarea";
const LEFT_ALONE = ["open", "tabindex", "hidden", "for", "data-state"];

/** Names children so that each finds its counterpart. */
function named(elements) {
  const names = new Map();
  const seen = {};
  for (const element of elements) {
    if (element.matches("script, template, [data-own]")) continue;
    const value = element.matches("button, [type=radio], [type=checkbox]") ? element.value : "";
    const kind = element.id || `${element.tagName} ${element.name || element.classList[0] || ""} ${value}`;
    seen[kind] = (seen[kind] ?? 0) + 1;
    names.set(`${kind} ${seen[kind]}`, element);
  }
  return names;
}

const hasText = (element) => [...element.childNodes].some((node) => node.nodeType === 3 && node.data.trim());

function likeAttributes(live, fresh) {
  for (const { name } of [...live.attributes]) {
    if (!fresh.hasAttribute(name) && !LEFT_ALONE.includes(name)) live.removeAttribute(name);
  }
  for (const { name, value } of fresh.attributes) {
    if (!LEFT_ALONE.includes(name) && live.getAttribute(name) !== value) live.setAttribute(name, value);
  }
}

/** Drawing into a form; `relevant` keeps the fields that went, `prepare` readies new ones. */
export function drawing(form, relevant, prepare) {
  let sent = new URLSearchParams();
  let saver = null;
  let held = null;

  /** A unit that is only offered follows the room; one that a person chose stays. */
  function likeUnit(live, fresh) {
    if (live === document.activeElement || live.value !== (live.dataset.offered ?? "")) return;
    live.replaceChildren(...[...fresh.options].map((option) => document.importNode(option, true)));
    if (fresh.dataset.offered === undefined) delete live.dataset.offered;
    else live.dataset.offered = fresh.dataset.offered;
    saver.readAs(live.name, live.value);
  }

  function likeControl(live, fresh) {
    if (live.matches(".controls > select")) return likeUnit(live, fresh);
    const speaker = live.hidden ? live.closest(".control").querySelector("[role=combobox]") : live;
    for (const name of ["aria-describedby", "aria-invalid"]) {
      if (fresh.hasAttribute(name)) speaker.setAttribute(name, fresh.getAttribute(name));
      else speaker.removeAttribute(name);
    }
    // How a number was read is shown, unless it was changed since or is in hand.
    const untouched = live !== document.activeElement && sent.get(live.name) === live.value;
    if (live.type === "hidden" || (live.matches(TYPED) && live.name && untouched)) {
      live.value = fresh.value;
      if (live.name) saver.readAs(live.name, fresh.value);
    }
  }

  function like(live, fresh) {
    if (live.matches(CONTROLS)) return likeControl(live, fresh);
    if (live.hidden && live.matches(".choices")) return likeControl(live, fresh);
    likeAttributes(live, fresh);
    if (fresh.tagName === "svg" || (hasText(fresh) && !live.querySelector(CONTROLS))) {
      const same = fresh.tagName === "svg" ? live.innerHTML === fresh.innerHTML : live.textContent === fresh.textContent;
      if (!same) live.replaceChildren(...[...fresh.childNodes].map((node) => document.importNode(node, true)));
    } else {
      likeChildren(live, fresh);
    }
  }

  function likeChildren(live, fresh) {
    const known = named(live.children);
    let last = null;
    for (const [name, one] of named(fresh.children)) {
      const match = known.get(name) ?? (one.id ? document.getElementById(one.id) : null);
      known.delete(name);
      if (match) {
        like(match, one);
        if (match.parentElement === live) last = match;
        continue;
      }
      if (relevant.decides(one)) continue;
      const back = relevant.laidBy(one.id);
      const made = back ?? document.importNode(one, true);
      if (last) last.after(made);
      else live.prepend(made);
      if (back) like(back, one);
      else prepare(made);
      last = made;
    }
    for (const gone of known.values()) {
      if (!gone.matches(".field[id], :has(.field[id])") && !gone.contains(document.activeElement)) gone.remove();
    }
  }

  /** Fields that the server no longer shows. */
  function sweep(page) {
    for (const row of form.querySelectorAll(".field[id]")) {
      const gone = !page.getElementById(row.id) && !relevant.decides(row);
      if (gone && !row.contains(document.activeElement)) relevant.hide(row);
    }
  }

  /** Whether a message would appear at the field into which somebody types just now. */
  function wouldInterrupt(page) {
    const here = document.activeElement;
    const row = here?.matches(TYPED) && here.closest(".field[id]");
    const message = row && page.getElementById(row.id)?.querySelector(".message");
    return Boolean(message) && message.textContent !== row.querySelector(".message")?.textContent;
  }

  function whole(page) {
    likeChildren(document.querySelector("main"), page.body);
    if (!saver.unsaved()) sweep(page);
  }

  return {
    /** Takes the page that answers a save of these fields; the keeper is told how they were read. */
    page(text, fields, keeper) {
      const page = new DOMParser().parseFromString(text, "text/html");
      saver = keeper;
      sent = new URLSearchParams(fields);
      held = null;
      if (!wouldInterrupt(page)) return whole(page);
      held = () => whole(page);
      const row = document.activeElement.closest(".field");
      const echo = page.getElementById(row.id).querySelector(".echo");
      if (echo) like(row.querySelector(".echo"), echo);
      const state = page.querySelector(".draft-state");
      if (state) like(document.querySelector(".draft-state"), state);
    },
    /** A message waits until its field is left. */
    heldBack() {
      const draw = held;
      held = null;
      // The focus is in the next field only after this event.
      if (draw) setTimeout(draw);
    },
  };
}
