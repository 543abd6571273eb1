// From the desk, N begins a case. A single key acts only outside text boxes.

const begin = document.querySelector("a[data-key='N']");
document.documentElement.classList.add("with-keys");
document.addEventListener("keydown", (event) => {
  const { key, target } = event;
  const other = event.ctrlKey || event.metaKey || event.altKey || event.isComposing;
  if (other || key.toLowerCase() !== "n" || target.closest("input, select, textarea")) return;
  event.preventDefault();
  begin.click();
});
