// Three small courtesies of forms: the focus goes to what is wrong, a form is sent once, and
// leaving with something typed and not saved is asked about.

export function takeFocus(page) {
  page.querySelector("[data-takes-focus]")?.focus();
}

// The button is marked, not disabled: a disabled button would lose the focus and its value.
export function sendOnce(page) {
  page.addEventListener("submit", (event) => {
    const form = event.target;
    if (event.defaultPrevented || !form.matches("[data-once]")) return;
    if (form.dataset.sent) {
      event.preventDefault();
      return;
    }
    form.dataset.sent = "yes";
    // What takes seconds is said; how far it is nobody knows here, so the bar has no value.
    for (const words of form.querySelectorAll("[data-while-sent]")) {
      words.hidden = false;
      words.scrollIntoView({ block: "nearest" });
    }
    for (const button of form.querySelectorAll("button:not([type=button])")) {
      button.setAttribute("aria-disabled", "true");
    }
  });
  // Coming back by the back button shows the page as it was left; it may be sent again.
  window.addEventListener("pageshow", () => {
    for (const form of page.querySelectorAll("[data-sent]")) {
      delete form.dataset.sent;
      form.querySelectorAll("[data-while-sent]").forEach((words) => (words.hidden = true));
      form.querySelectorAll("[aria-disabled]").forEach((button) => button.removeAttribute("aria-disabled"));
    }
  });
}

export function guardUnsaved(page) {
  let typed = false;
  page.addEventListener("input", (event) => {
    if (event.target.closest("[data-guard]")) typed = true;
  });
  page.addEventListener("submit", () => {
    typed = false;
  });
  window.addEventListener("beforeunload", (event) => {
    if (typed) event.preventDefault();
  });
}
