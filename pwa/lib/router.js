/** Addresses within the app: the part after #, matched against patterns such as "unit/:chassis/walk/:view". */

/**
 * @param {string} pattern
 * @param {string} address  without "#/"
 * @returns {Record<string, string> | null}
 */
export function match(pattern, address) {
  const wanted = pattern.split("/");
  const given = address.split("/").map(decodeURIComponent);
  if (wanted.length !== given.length) return null;
  /** @type {Record<string, string>} */
  const params = {};
  for (const [place, part] of wanted.entries()) {
    if (part.startsWith(":")) params[part.slice(1)] = given[place];
    else if (part !== given[place]) return null;
  }
  return params;
}

/** @param {...(string | number)} parts */
export function address(...parts) {
  return `#/${parts.map((part) => encodeURIComponent(part)).join("/")}`;
}
