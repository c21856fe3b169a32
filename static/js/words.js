// Words of the scripts in the language of the page. Where no catalogue is loaded, as on English
// pages, the words stay as they are written.
const said = globalThis.django ?? {};

export const gettext = said.gettext ?? ((words) => words);
export const ngettext = said.ngettext ?? ((one, many, count) => (count === 1 ? one : many));

/** Put `values` into the places of `words` that are named `%(name)s`. */
export function interpolate(words, values) {
  return words.replace(/%\((\w+)\)s/g, (place, name) => String(values[name] ?? place));
}
