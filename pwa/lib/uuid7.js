/** Version 7 UUIDs (RFC 9562, section 5.7): 48 bits of milliseconds, then random bits; in rising order on one phone. */

/**
 * @param {number} milliseconds  since 1970 UTC
 * @param {Uint8Array} random  ten bytes; version and variant bits are set over them
 */
export function uuid7From(milliseconds, random) {
  const bytes = new Uint8Array(16);
  let rest = milliseconds;
  for (let place = 5; place >= 0; place -= 1) {
    bytes[place] = rest % 256;
    rest = Math.floor(rest / 256);
  }
  bytes.set(random.subarray(0, 10), 6);
  bytes[6] = (bytes[6] & 0x0f) | 0x70;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

let lastMilliseconds = 0;

/** A new identity. A clock that stands still or steps back still gives rising identities within one page. */
export function uuid7(now = Date.now()) {
  lastMilliseconds = Math.max(now, lastMilliseconds + 1);
  return uuid7From(lastMilliseconds, crypto.getRandomValues(new Uint8Array(10)));
}
