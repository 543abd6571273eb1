// What stands between the person and a saved draft, in the foot where it is always seen. While
// something does, the head no longer says that the draft is saved.

import { made } from "./made.js";

const STAYS = " What you typed stays here.";

/** The address to sign in at, which comes back to this very field. */
function signIn() {
  const href = `/sign-in?${new URLSearchParams({ to: location.pathname + location.hash })}`;
  const link = made("a", { href, target: "_blank" }, "Sign in again in a new tab");
  return [link, ", then come back here: this page saves by itself."];
}

/** The normal way to both versions side by side. */
function compare() {
  const button = { type: "submit", name: "do", value: "save", class: "button", "data-compare": "" };
  return [made("button", button, "Compare both")];
}

/** A place for notices in the foot of the form; gives back how to say one. */
export function notice(form) {
  const place = made("p", { class: "draft-notice", role: "status", "data-own": "" });
  form.querySelector(".form-foot").prepend(place);
  const words = {
    saved: () => [],
    lost: () => [`Not saved: no connection.${STAYS}`],
    busy: () => [`Not saved: the registry does not answer.${STAYS}`],
    signedOut: () => [`Not saved: your sign-in is over.${STAYS} `, ...signIn()],
    overtaken: () => ["Not saved: somebody else saved this draft. Nothing of yours or theirs is lost. ", ...compare()],
    refused: (why) => [`Not saved: ${why}${STAYS}`],
  };
  return (state, detail) => {
    const said = words[state](detail);
    if (place.dataset.state !== state || state === "refused") place.replaceChildren(...said);
    place.dataset.state = state;
    document.querySelector(".draft-state").hidden = said.length > 0;
  };
}
