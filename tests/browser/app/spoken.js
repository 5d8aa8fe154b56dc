/* The app in another language, without a word to its settings; and what it shows that its catalogue does not say. */
({
  /* catalogue: a language's own, or null for one in which every letter is another, so that what is not in the catalogue
   * stands out. */
  async speak(tag, catalogue, server) {
    const { speak } = await import(
      document.querySelector("script[type=module]").src.replace("main.js", "lib/language.js")
    );
    speak(tag, catalogue, server);
    document.documentElement.lang = tag;
    window.dispatchEvent(new Event("languagechange"));
    await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
  },
  /* known: what is said in the plant's or a person's own words. Returns what else is shown in plain letters. */
  bare(known) {
    const plain = (text) => text.replace(/[.*+?^${}()|[\]\\]/g, "\\$&");
    const longest = [...known].sort((a, b) => b.length - a.length).map(plain);
    const whole = new RegExp(`(?<!\\p{L})(?:${longest.join("|")})(?!\\p{L})`, "gu");
    const found = new Set();
    const look = (text) => {
      const rest = text.replace(/\s+/g, " ").replace(whole, " ");
      if (/[A-Za-z]{3,}/.test(rest.replace(/\S*\d\S*/g, " "))) found.add(text.replace(/\s+/g, " ").trim());
    };
    const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    for (let node = walker.nextNode(); node; node = walker.nextNode()) {
      // Notices were said in the language in which the walk goes on; a name on the drawing stands there line by line.
      if (!node.parentElement.closest("[role=status], body [lang], .zone-name, script, style, noscript, textarea"))
        look(node.data);
    }
    for (const name of ["aria-label", "alt", "placeholder", "title"])
      for (const each of document.querySelectorAll(`[${name}]`))
        if (!each.closest("[role=status], body [lang]")) look(each.getAttribute(name));
    return [...found];
  },
});
