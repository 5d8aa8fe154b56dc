// A drawing that is not in force yet, kept in this browser, so that a closed tab loses nothing.

/** What is kept under a name: {base, from, drawing, at}; null for nothing, or for what cannot be read. */
export function kept(name) {
  try {
    const found = JSON.parse(localStorage.getItem(name) ?? "null");
    return found && typeof found.base === "string" && Array.isArray(found.drawing?.zones) ? found : null;
  } catch {
    return null; // no room for it in this browser, or another's words under this name: the drawing in force is shown
  }
}

/** Keep it; returns whether this browser could. */
export function keep(name, told) {
  try {
    localStorage.setItem(name, JSON.stringify(told));
    return true;
  } catch {
    return false;
  }
}

/** Let it go. */
export function letGo(name) {
  try {
    localStorage.removeItem(name);
  } catch {
    // a browser that keeps nothing kept nothing of this either
  }
}
