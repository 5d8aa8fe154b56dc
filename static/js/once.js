// A second tap on a form's key sends it no second time: the answer that is shown would be the second one's, and a slip
// with a PIN, or "taken", would be lost behind "is taken already".

const AGAIN_MS = 5000; // who stopped a request that hangs may send it again

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (event.defaultPrevented || form.method !== "post") return;
  if (form.dataset.sent) {
    event.preventDefault();
    return;
  }
  form.dataset.sent = "yes";
  setTimeout(() => delete form.dataset.sent, AGAIN_MS);
});

addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("form[data-sent]")) delete form.dataset.sent; // come back to by "back"
});
