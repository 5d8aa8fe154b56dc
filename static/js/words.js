// What scripts say, in the language of the page: the page gives them their sentences (qc/web/script_words.py), none where
// they are said in English as they stand.

let given = null;

/** A sentence's own words; of a counted one those for one and for several. */
function wordsOf(text) {
  given ??= Object.assign(
    {},
    ...[...(globalThis.document?.querySelectorAll("script[data-script-words]") ?? [])].map((element) =>
      JSON.parse(element.textContent),
    ),
  );
  return given[text] ?? text;
}

const filled = (text, values) => text.replace(/\{(\w+)\}/g, (_, name) => values[name]);

/** A sentence with its values at the places `{name}`; the sentence is a literal, by which the catalogue knows it. */
export function say(text, values = {}) {
  return filled(wordsOf(text), values);
}

/** A sentence for one or for several, `{number}` and the other values at their places. */
export function sayMany(one, many, number, values = {}) {
  const told = wordsOf(one);
  const [single, several] = told === one ? [one, many] : told;
  return filled(number === 1 ? single : several, { number, ...values });
}

/** The language of the page. */
export const tongue = () => globalThis.document?.documentElement.lang || "en";

/** The page's own sign before decimals. */
export const decimalSign = () => new Intl.NumberFormat(tongue()).format(0.5)[1];

/** A number with so many decimals. */
export const figure = (number, decimals) => number.toFixed(decimals).replace(".", decimalSign());
