// From the desk, N begins a case. A single key acts only outside text boxes, and not where
// the member turned single keys off.

const begin = document.querySelector("a[data-key='N']");
const on = document.documentElement.dataset.singleKeys !== "off";
document.documentElement.classList.toggle("with-keys", on);
document.addEventListener("keydown", (event) => {
  const { key, target } = event;
  const other = event.ctrlKey || event.metaKey || event.altKey || event.isComposing;
  if (!on || other || key.toLowerCase() !== "n" || target.closest("input, select, textarea")) return;
  event.preventDefault();
  begin.click();
});
