// The page of samples. Without this script it is a form that is saved by its button; with it,
// the keyboard moves as on a sheet, and what is typed is safe from a lost session or network.
import { Rows } from "./samples/rows.js";
import { takeKeys } from "./samples/keys.js";
import { takePaste } from "./samples/pasting.js";
import { Keeper, sameRows } from "./samples/keeping.js";
import * as sending from "./samples/sending.js";
import { gettext, interpolate } from "./words.js";

const RETRY_AFTER = 15_000;

class Page {
  constructor(form) {
    this.form = form;
    this.rows = new Rows(form);
    this.keeper = new Keeper(form.dataset.keeper);
    this.stored = this.rows.filled();
    this.dirty = form.hasAttribute("data-unsaved");
    this.waiting = false;
    this.sent = "";
    this.field = null;
  }

  open() {
    takeKeys(this.rows, (field) => this.repeatAbove(field));
    takePaste(this.rows, { changed: () => this.changed(), say: (words) => this.say(words) });
    this.form.addEventListener("input", () => this.changed());
    this.form.addEventListener("focusin", (event) => {
      if (event.target.matches(".sample-row input")) this.field = event.target;
    });
    this.form.addEventListener("pointerdown", (event) => {
      // The field keeps the focus, so that "same as above" knows which one is meant.
      if (event.target.closest("[data-does=above]")) event.preventDefault();
    });
    this.form.addEventListener("click", (event) => this.clicked(event));
    this.form.addEventListener("submit", (event) => {
      event.preventDefault();
      this.save();
    });
    this.trimForPhones();
    this.restore();
    this.showUndo();
  }

  // A phone shows each row as a card; empty ones would only be scrolled past.
  trimForPhones() {
    if (!matchMedia("(max-width: 47.99rem)").matches) return;
    const blank = this.rows.all().filter((row) => this.rows.isBlank(row) && !row.querySelector("[name=was]").value);
    const keep = this.stored.length ? 0 : 1;
    blank.slice(keep).forEach((row) => this.rows.drop(row));
    this.rows.renumber();
  }

  hidden(name) {
    return this.form.querySelector(`input[name="${name}"]`);
  }

  // Asked for only once the consignment was sent.
  reason() {
    return this.form.querySelector("[name=reason]");
  }

  changed() {
    this.dirty = true;
    // Other words under the same token would be taken for the same saving.
    if (this.sent) {
      this.hidden("token").value = crypto.randomUUID?.() ?? String(Math.random()).slice(2);
      this.sent = "";
    }
    clearTimeout(this.soon);
    this.soon = setTimeout(() => this.keep(), 300);
    this.showUndo();
  }

  keep() {
    clearTimeout(this.soon);
    if (!this.dirty) return true;
    return this.keeper.keep({
      rows: this.rows.filled(),
      version: this.hidden("version").value,
      seen: this.hidden("seen").value,
      token: this.hidden("token").value,
      reason: this.reason()?.value ?? "",
      waiting: this.waiting,
    });
  }

  restore() {
    const kept = this.keeper.read();
    if (!kept?.rows?.length) return;
    if (sameRows(kept.rows, this.rows.filled())) {
      if (!this.form.hasAttribute("data-unsaved")) this.keeper.forget();
      return;
    }
    this.rows.remember(gettext("What was put back was taken away again."));
    this.rows.put(kept.rows);
    for (const name of ["version", "seen", "token"]) this.hidden(name).value = kept[name] ?? "";
    if (this.reason() && kept.reason) this.reason().value = kept.reason;
    this.dirty = true;
    const at = new Date(kept.at).toLocaleString(document.documentElement.lang);
    this.say(interpolate(gettext("What you typed here on %(at)s and did not save was put back."), { at }), [
      [gettext("Save it now"), () => this.save()],
      [gettext("Throw it away"), () => this.throwAway()],
    ]);
    if (kept.waiting) this.save();
  }

  throwAway() {
    this.dirty = false;
    this.keeper.forget();
    location.reload();
  }

  clicked(event) {
    const button = event.target.closest("[data-does]");
    if (!button) return;
    const row = button.closest(".sample-row");
    if (button.dataset.does === "add") this.add();
    else if (button.dataset.does === "above") this.repeatAbove(this.field);
    else if (button.dataset.does === "fill") this.fill(row);
    else if (button.dataset.does === "remove") this.remove(row);
    else if (button.dataset.does === "undo") this.undo();
  }

  add() {
    if (!this.rows.hasRoom()) {
      this.say(interpolate(gettext("This page takes %(most)s samples. Use the spreadsheet for more."), this.rows));
      return;
    }
    const row = this.rows.append();
    row.scrollIntoView({ block: "nearest" });
    this.rows.fields(row)[0].focus();
  }

  repeatAbove(field) {
    if (!field?.isConnected) {
      this.say(gettext("Put the cursor into a cell first; it then takes what stands above it."));
      return;
    }
    const value = this.rows.above(field);
    if (value === null) return;
    field.value = value;
    field.focus();
    this.changed();
  }

  fill(row) {
    this.rows.remember(gettext("The filling was taken back."));
    for (const field of this.rows.fields(row)) {
      if (field.value.trim()) continue;
      const value = this.rows.above(field);
      if (value !== null) field.value = value;
    }
    this.rows.fields(row)[0].focus();
    this.changed();
    this.say(gettext("Empty cells of the row were filled as above. Undo takes it back."));
  }

  remove(row) {
    const name = this.rows.fieldIn(row, "own_id").value.trim();
    const next = this.rows.takeOut(row, gettext("The removing was taken back."));
    if (!this.rows.all().length) this.rows.append();
    this.changed();
    const words = name
      ? gettext("“%(name)s” was taken out; it is gone when you save. Undo takes it back.")
      : gettext("The row was taken out; it is gone when you save. Undo takes it back.");
    this.say(interpolate(words, { name }));
    (next ? this.rows.fields(next)[0] : this.form.querySelector("[data-does=undo]"))?.focus();
  }

  undo() {
    const words = this.rows.undo();
    this.changed();
    if (words) this.say(words);
  }

  showUndo() {
    const button = this.form.querySelector("[data-does=undo]");
    if (button) button.hidden = !this.rows.former.length;
  }

  say(words, ways = []) {
    const place = document.getElementById("keeping");
    place.replaceChildren();
    if (!words) return;
    const notice = document.createElement("div");
    notice.className = "notice";
    const sentence = document.createElement("p");
    sentence.textContent = words;
    notice.append(sentence);
    if (ways.length) {
      const row = document.createElement("p");
      row.className = "row";
      for (const [name, way] of ways) row.append(this.wayOf(name, way));
      notice.append(row);
    }
    place.append(notice);
  }

  wayOf(name, way) {
    if (typeof way === "string") {
      const link = document.createElement("a");
      link.href = way;
      link.target = "_blank";
      link.textContent = name;
      return link;
    }
    const button = document.createElement("button");
    button.type = "button";
    button.className = "button button-small";
    button.textContent = name;
    button.addEventListener("click", way);
    return button;
  }

  async save() {
    if (this.busy) return;
    this.busy = true;
    const button = this.form.querySelector("button:not([type=button])");
    button.setAttribute("aria-disabled", "true");
    this.waiting = true;
    const safe = this.keep();
    this.sent = this.hidden("token").value;
    const answer = await sending.send(this.form);
    this.busy = false;
    button.removeAttribute("aria-disabled");
    this.answered(answer, safe);
  }

  answered({ outcome, page, status, address }, safe) {
    const kept = safe
      ? gettext("What you typed is kept on this device.")
      : gettext("Keep this page open: this device cannot keep what you typed.");
    const again = [gettext("Send again"), () => this.save()];
    const say = (words, ways, more = {}) => this.say(interpolate(words, { kept, ...more }), ways);
    if (outcome === sending.SAVED || outcome === sending.REFUSED) {
      this.waiting = false;
      if (outcome === sending.SAVED) this.keeper.forget();
      else this.keep();
      show(page, address);
    } else if (outcome === sending.NO_NETWORK) {
      say(gettext("There is no network. %(kept)s It is sent by itself as soon as there is."), [again]);
    } else if (outcome === sending.SIGNED_OUT) {
      say(gettext("You are signed out. %(kept)s Sign in in another tab; it is then sent by itself."), [
        [gettext("Sign in (opens another tab)"), this.form.dataset.signIn],
        again,
      ]);
    } else if (outcome === sending.OTHER_PERSON) {
      this.waiting = false;
      say(gettext("Somebody else is signed in now. %(kept)s Sign in as yourself to save it."), [again]);
    } else {
      this.waiting = false;
      const reason = page?.querySelector("main .notice, main h1")?.textContent?.trim() ?? "";
      say(gettext("It could not be saved (answer %(status)s). %(reason)s %(kept)s"), [again], { status, reason });
    }
  }
}

let current = null;

function start() {
  const form = document.querySelector("form[data-samples]");
  current = form ? new Page(form) : null;
  current?.open();
}

function show(page, address) {
  const main = document.getElementById("main");
  main.replaceWith(document.adoptNode(page.getElementById("main")));
  document.title = page.title;
  if (address) history.replaceState(null, "", address);
  start();
  const wrong = document.querySelector("[data-takes-focus]");
  if (wrong) wrong.focus();
  else document.getElementById("main").focus();
  window.scrollTo(0, 0);
}

const retry = () => {
  if (current?.waiting && !current.busy) current.save();
};
window.addEventListener("online", retry);
window.addEventListener("focus", retry);
setInterval(retry, RETRY_AFTER);
window.addEventListener("pagehide", () => current?.keep());
window.addEventListener("beforeunload", (event) => {
  if (current?.dirty && !current.keep()) event.preventDefault();
});
start();
