// Making an element in one expression; text stays text.

/** An element with its attributes and children. */
export function made(tag, attributes, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  element.append(...children);
  return element;
}
