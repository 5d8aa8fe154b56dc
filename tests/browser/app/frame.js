/* Measures the app's frame: what is too small, cut, covered, or moves. Returns what is wrong, in words. */
(size) => {
  const box = (each) => each.getBoundingClientRect();
  const shown = (each) => each.getClientRects().length && !each.closest(".visually-hidden");
  const words = (each) => (each.textContent.trim() || each.getAttribute("aria-label") || each.tagName).slice(0, 40);
  const found = [];
  const drawing = document.querySelector("svg.drawing:not(.where)");
  const main = box(document.querySelector("main"));
  const seen = drawing ? Math.min(box(drawing).bottom, main.bottom) - Math.max(box(drawing).top, main.top) : 0;
  if (size.share && drawing && seen / innerHeight < size.share)
    found.push(`drawing ${(seen / innerHeight).toFixed(2)}`);
  const head = box(document.querySelector("header")).height;
  if (size.head && head > size.head + 0.5) found.push(`head ${head}`);
  if (document.documentElement.scrollWidth > innerWidth) found.push("wider than the screen");
  for (const part of document.querySelectorAll("body > *")) {
    if (part.scrollWidth > part.clientWidth + 1)
      found.push(`${part.tagName} scrolls sideways by ${part.scrollWidth - part.clientWidth}`);
  }
  const footer = document.querySelector("footer");
  for (const each of footer.querySelectorAll("button, .button")) {
    // What lies above where a scrolled part begins, nobody can scroll to.
    if (shown(each) && box(each).top + footer.scrollTop < box(footer).top - 1)
      found.push(`out of reach: ${words(each)}`);
  }
  for (const each of document.querySelectorAll("button, a.button, a.row, label.button, header a, summary, h1")) {
    if (!shown(each)) continue;
    const { width, height } = box(each);
    // The head is one line of 48 px; its signs are no wider than they must be. All that is worked with is a thumb wide.
    const inHead = each.closest("header");
    const least = each.matches("h1") ? 0 : inHead ? 40 : 64;
    const small = width < least - 0.5 || (!inHead && height < least - 0.5);
    if (small) found.push(`target ${width.toFixed(0)} x ${height.toFixed(0)}: ${words(each)}`);
    const cut = each.scrollWidth > each.clientWidth + 1 || each.scrollHeight > each.clientHeight + 2;
    if (cut) found.push(`cut: ${words(each)}`);
  }
  for (const zone of document.querySelectorAll(".zone")) {
    const { width, height } = box(zone.querySelector("polygon"));
    // Five zones side by side find 48 px each on the narrowest phone, 64 on every other.
    const small = Math.min(width, height) < (innerWidth < 360 ? 48 : 63);
    if (small) found.push(`zone ${width.toFixed(0)} x ${height.toFixed(0)}: ${zone.dataset.zone}`);
  }
  const names = [...document.querySelectorAll(".zone-name")].map((each) => ({
    text: each.textContent,
    at: box(each),
    zone: box(each.closest(".zone").querySelector("polygon")),
  }));
  names.forEach(({ text, at, zone }, place) => {
    const outside = at.left < zone.left - 2 || at.right > zone.right + 2 || at.bottom > zone.bottom + 3;
    if (text.includes("…") || outside) found.push(`name cut: ${text}`);
    const over = names
      .slice(place + 1)
      .find(
        ({ at: other }) =>
          at.left < other.right - 2 &&
          other.left < at.right - 2 &&
          at.top < other.bottom - 5 &&
          other.top < at.bottom - 5,
      );
    if (over) found.push(`name ${text} over ${over.text}`);
  });
  return found;
};
