// Choosing a code by typing, as an editable combobox with a list (WAI-ARIA Authoring Practices,
// combobox pattern, from memory). It stands in the place of a long select or of many boxes.

import { chips, codesOf } from "./codes.js";
import { made } from "./made.js";
import { matching } from "./matching.js";

/** A select with more codes than this is searched. */
const SHORT = 5;

/** Puts a picker in the place of every long select and every group of boxes. */
export function findPickers(within) {
  for (const holder of within.querySelectorAll(".control > select, .control > .choices")) {
    const short = holder.matches("select") && holder.options.length - 1 <= SHORT;
    if (!short && !holder.hidden) new Picker(holder);
  }
}

class Picker {
  #codes;
  #several;
  #shown = [];
  #at = -1;
  #box;
  #list;
  #said = made("p", { class: "picker-said", role: "status" });
  #chips = made("span", { class: "chips" });

  constructor(holder) {
    this.#codes = codesOf(holder);
    this.#several = holder.matches(".choices");
    const id = `${holder.id}-by-typing`;
    const label = holder.closest(".field").querySelector(".label");
    const list = { id: `${id}-list`, role: "listbox", class: "picker-list plain", "aria-label": label.textContent.trim() };
    this.#list = made("ul", { ...list, hidden: "" });
    this.#box = made("input", {
      id, class: "input wide", role: "combobox", placeholder: "Type to search", autocomplete: "off", spellcheck: "false",
      "aria-expanded": "false", "aria-controls": `${id}-list`, "aria-autocomplete": "list",
    });
    const told = ["aria-describedby", "aria-invalid"].filter((name) => holder.hasAttribute(name));
    for (const name of told) this.#box.setAttribute(name, holder.getAttribute(name));
    if (this.#several) {
      this.#list.setAttribute("aria-multiselectable", "true");
      this.#box.setAttribute("aria-labelledby", `${holder.id}-label`);
    } else {
      label.htmlFor = id;
    }
    holder.hidden = true;
    const below = made("div", { class: "picker-below" }, this.#list, this.#said);
    holder.after(made("div", { class: "picker", "data-own": "" }, this.#chips, this.#box, below));
    this.#listen();
    this.#settle();
  }

  #listen() {
    this.#box.addEventListener("input", () => this.#open(this.#box.value ? 0 : -1));
    this.#box.addEventListener("click", () => this.#list.hidden && this.#open(-1));
    this.#box.addEventListener("focus", () => this.#box.select());
    this.#box.addEventListener("blur", () => this.#leave());
    this.#box.addEventListener("keydown", (event) => this.#press(event) && event.preventDefault());
    this.#list.addEventListener("mousedown", (event) => {
      event.preventDefault();
      const at = [...this.#list.children].indexOf(event.target.closest("[role=option]"));
      if (at >= 0) this.#take(this.#shown[at]);
    });
  }

  get #label() {
    return this.#several ? "" : (this.#codes.find((code) => code.isChosen())?.label ?? "");
  }

  /** Shows what is chosen and closes the list. */
  #settle() {
    this.#close();
    this.#said.textContent = "";
    this.#box.value = this.#label;
    if (!this.#several) return;
    this.#chips.replaceChildren(...chips(this.#codes, (code) => {
      this.#take(code);
      this.#box.focus();
    }));
  }

  #close() {
    this.#list.hidden = true;
    this.#box.setAttribute("aria-expanded", "false");
    this.#box.removeAttribute("aria-activedescendant");
  }

  /** Opens the list on what is typed, with one of its options marked. */
  #open(at) {
    const typed = this.#box.value === this.#label ? "" : this.#box.value;
    this.#shown = matching(this.#codes, typed);
    this.#list.replaceChildren(...this.#shown.map((code, index) => {
      const line = made("li", { role: "option", id: `${this.#list.id}-${index}` }, made("b", {}, code.label));
      line.setAttribute("aria-selected", String(code.isChosen()));
      if (code.about) line.append(made("span", {}, code.about));
      return line;
    }));
    this.#list.hidden = this.#shown.length === 0;
    this.#box.setAttribute("aria-expanded", String(!this.#list.hidden));
    const keys = this.#shown.length > 0 ? " Arrow keys move, Enter takes, Esc leaves." : "";
    this.#said.textContent = `${this.#shown.length || "None"} of ${this.#codes.length}.${keys}`;
    this.#mark(at);
  }

  #mark(at) {
    this.#at = this.#shown.length > 0 && at >= 0 ? at % this.#shown.length : -1;
    this.#list.querySelector(".at")?.classList.remove("at");
    const line = this.#list.children[this.#at];
    this.#box.setAttribute("aria-activedescendant", line?.id ?? "");
    line?.classList.add("at");
    line?.scrollIntoView({ block: "nearest" });
  }

  /** Takes a code; one of several that was taken already is dropped. */
  #take(code) {
    if (this.#several && code.isChosen()) code.drop();
    else code.choose();
    this.#settle();
  }

  /** Whether the key is used up. */
  #press({ key, ctrlKey, metaKey }) {
    const open = !this.#list.hidden;
    const marked = open ? this.#shown[this.#at] : undefined;
    if (key === "ArrowDown") open ? this.#mark(this.#at + 1) : this.#open(0);
    else if (key === "ArrowUp" && open) this.#mark((this.#at > 0 ? this.#at : this.#shown.length) - 1);
    else if (marked && (key === "Tab" || (key === "Enter" && (ctrlKey || metaKey)))) return this.#take(marked), false;
    else if (key === "Enter" && open) marked && this.#take(marked);
    else if (key === "Escape" && (open || this.#box.value !== this.#label)) this.#settle();
    else if (key === "Backspace" && !this.#box.value) return this.#dropLast(), false;
    else return false;
    return true;
  }

  #dropLast() {
    const last = this.#codes.findLast((code) => code.isChosen());
    if (last && this.#several) this.#take(last);
  }

  /** A box that was emptied holds nothing; words that are no code stay, and are said to be none. */
  #leave() {
    this.#close();
    const typed = this.#box.value.trim();
    if (!typed && this.#label) this.#codes.find((code) => code.isChosen()).drop();
    const stray = typed && typed !== this.#label;
    this.#said.textContent = stray ? `“${typed}” is not in the list: nothing is chosen by it.` : "";
  }
}
