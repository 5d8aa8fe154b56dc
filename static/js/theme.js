// Classic and early on purpose: the theme must stand before the first paint, or a dark page flashes white at night.
(() => {
  const KEY = "theme";
  const root = document.documentElement;

  /** A browser that refuses storage still shows the page: it only forgets the choice. */
  const kept = () => {
    try {
      return localStorage.getItem(KEY);
    } catch {
      return null;
    }
  };
  const keep = (theme) => {
    try {
      localStorage.setItem(KEY, theme);
    } catch {
      // Refused storage: the choice holds for this page.
    }
  };
  const show = (theme) => {
    root.dataset.theme = theme === "dark" ? "dark" : "light";
  };

  show(kept());
  document.addEventListener("DOMContentLoaded", () => {
    const button = document.querySelector("[data-theme-button]");
    if (!button) return;
    const label = () => {
      button.textContent = root.dataset.theme === "dark" ? button.dataset.lighter : button.dataset.darker;
    };
    button.hidden = false;
    label();
    button.addEventListener("click", () => {
      show(root.dataset.theme === "dark" ? "light" : "dark");
      keep(root.dataset.theme);
      label();
      document.dispatchEvent(new CustomEvent("theme-changed"));
    });
  });
})();
