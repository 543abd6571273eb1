// Which codes fit what is typed: words of the label first, then the code itself, then words of
// the definition, which hold what else a thing is called.

const plain = (text) => text.toLowerCase().normalize("NFD").replace(/\p{M}/gu, "");
const words = (text) => plain(text).split(/[^\p{L}\p{N}]+/u).filter(Boolean);

/** How well an option fits; lower is better, nothing is no fit. */
function rank(option, typed) {
  if (plain(option.label).startsWith(plain(typed).trim())) return 0;
  const wanted = words(typed);
  const fits = (text) => wanted.every((word) => words(text).some((known) => known.startsWith(word)));
  const places = [option.label, option.value, `${option.label} ${option.value} ${option.about}`];
  const place = places.findIndex(fits);
  return place < 0 ? null : place + 1;
}

/** The options that fit, the best first; all of them when nothing is typed. */
export function matching(options, typed) {
  if (!typed.trim()) return options;
  return options
    .map((option) => ({ option, rank: rank(option, typed) }))
    .filter((one) => one.rank !== null)
    .sort((one, other) => one.rank - other.rank)
    .map((one) => one.option);
}
