// The rows of the page of samples as a sheet: where a field stands, what the rows hold, how rows
// come and go. A row is a table row of class "sample-row"; its fields carry the columns' codes.

const NEVER_COPIED = new Set(["was"]);

export class Rows {
  constructor(form) {
    this.form = form;
    this.body = form.querySelector(".grid tbody");
    this.pattern = form.querySelector("#empty-row");
    this.most = Number(form.dataset.most);
    this.last = this.all().length;
    this.former = [];
  }

  all() {
    return [...this.body.querySelectorAll(".sample-row")];
  }

  fields(row) {
    return [...row.querySelectorAll("input[name]:not([type=hidden])")];
  }

  // Fields that can be seen; folded columns are passed over by keys and paste.
  shown(row) {
    return this.fields(row).filter((field) => field.offsetParent !== null);
  }

  placeOf(field) {
    const rows = this.all();
    const row = field.closest(".sample-row");
    return { rows, row, index: rows.indexOf(row), name: field.name };
  }

  fieldIn(row, name) {
    return row?.querySelector(`input[name="${name}"]`) ?? null;
  }

  isBlank(row) {
    return this.fields(row).every((field) => !field.value.trim());
  }

  // What every row holds, with the hidden own id it came with first.
  values() {
    return this.all().map((row) => [...row.querySelectorAll("input[name]")].map((field) => field.value));
  }

  filled() {
    return this.values().filter(([, ...texts]) => texts.some((text) => text.trim()));
  }

  put(values) {
    while (this.all().length > values.length) this.drop(this.all().at(-1));
    while (this.all().length < values.length) this.append();
    this.all().forEach((row, index) => {
      const was = row.querySelector("[name=was]").value;
      row.querySelectorAll("input[name]").forEach((field, place) => {
        field.value = values[index][place] ?? "";
      });
      if (row.querySelector("[name=was]").value !== was) this.silence(row);
    });
    this.renumber();
  }

  // What the rules said belongs to the sample that stood here; another one stands here now.
  silence(row) {
    this.saysOf(row)?.remove();
    row.querySelectorAll(".mark-of-finding").forEach((mark) => mark.remove());
  }

  saysOf(row) {
    return row.nextElementSibling?.matches(".says") ? row.nextElementSibling : null;
  }

  append() {
    this.last += 1;
    const copy = this.pattern.content.cloneNode(true);
    const row = copy.querySelector(".sample-row");
    for (const element of row.querySelectorAll("[id], [aria-labelledby]")) this.rename(element);
    this.rename(row.querySelector(".row-number"));
    this.body.append(row);
    this.renumber();
    return this.all().at(-1);
  }

  rename(element) {
    const fresh = (words) => words.replace(/\br\d+(?=-|$)/g, `r${this.last}`);
    if (element.id) element.id = fresh(element.id);
    if (element.hasAttribute("aria-labelledby")) {
      element.setAttribute("aria-labelledby", fresh(element.getAttribute("aria-labelledby")));
    }
  }

  drop(row) {
    this.saysOf(row)?.remove();
    row.remove();
  }

  // Take a row out so that undo puts it back where it stood, with what the rules said of it.
  takeOut(row, words) {
    const index = this.all().indexOf(row);
    const says = this.saysOf(row);
    this.former.push({
      words,
      back: () => {
        const next = this.all()[index] ?? null;
        this.body.insertBefore(row, next);
        if (says) this.body.insertBefore(says, next);
        this.renumber();
      },
    });
    this.drop(row);
    this.renumber();
    return this.all()[index] ?? null;
  }

  renumber() {
    this.all().forEach((row, index) => {
      row.querySelector(".row-number").textContent = String(index + 1);
      row.querySelectorAll(".row-does .unseen").forEach((words) => {
        words.textContent = words.textContent.replace(/\d+/, String(index + 1));
      });
    });
  }

  hasRoom() {
    return this.all().length < this.most;
  }

  // Remember how everything stood, so that one step can be taken back.
  remember(words) {
    const values = this.values();
    this.former.push({ words, back: () => this.put(values) });
    if (this.former.length > 20) this.former.shift();
  }

  undo() {
    const step = this.former.pop();
    step?.back();
    return step?.words ?? "";
  }

  // The value for "same as above": an own id counts its last number on, anything else repeats.
  above(field) {
    const { rows, index, name } = this.placeOf(field);
    const over = this.fieldIn(rows[index - 1], name);
    if (!over || NEVER_COPIED.has(name)) return null;
    if (name !== "own_id") return over.value;
    const match = /^(.*?)(\d+)(\D*)$/.exec(over.value);
    if (!match) return "";
    const next = String(Number(match[2]) + 1).padStart(match[2].length, "0");
    return `${match[1]}${next}${match[3]}`;
  }
}
