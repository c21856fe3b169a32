// A block copied from a spreadsheet is tab-separated text; fields with quotes may hold line breaks.

import { gettext, interpolate, ngettext } from "../words.js";

export function cellsOf(text) {
  const rows = [[]];
  let cell = "";
  let quoted = false;
  const body = text.replace(/\r\n?/g, "\n").replace(/\n$/, "");
  for (let place = 0; place < body.length; place += 1) {
    const character = body[place];
    if (quoted) {
      if (character !== '"') cell += character;
      else if (body[place + 1] === '"') {
        cell += '"';
        place += 1;
      } else quoted = false;
    } else if (character === '"' && cell === "") quoted = true;
    else if (character === "\t" || character === "\n") {
      rows.at(-1).push(cell);
      cell = "";
      if (character === "\n") rows.push([]);
    } else cell += character;
  }
  rows.at(-1).push(cell);
  return rows;
}

export function takePaste(rows, { changed, say }) {
  rows.body.addEventListener("paste", (event) => {
    const field = event.target;
    const text = event.clipboardData?.getData("text/plain") ?? "";
    if (!field.matches(".sample-row input") || !/[\t\n\r]/.test(text.replace(/[\r\n]+$/, ""))) return;
    event.preventDefault();
    const block = cellsOf(text);
    const { rows: all, index, row } = rows.placeOf(field);
    if (index + block.length > rows.most) {
      const words = gettext("This page takes %(most)s samples; the block has %(rows)s rows. Use the spreadsheet for more.");
      say(interpolate(words, { most: rows.most, rows: block.length }));
      return;
    }
    const from = rows.shown(row).indexOf(field);
    const names = rows.shown(row).slice(from).map((one) => one.name);
    rows.remember(gettext("What was pasted was taken back."));
    block.forEach((cells, down) => {
      const target = rows.all()[index + down] ?? rows.append();
      cells.forEach((cell, right) => {
        const to = rows.fieldIn(target, names[right]);
        if (to) to.value = cell.replace(/\s*\n\s*/g, " ").trim();
      });
    });
    const beyond = Math.max(...block.map((cells) => cells.length)) - names.length;
    const parts = [interpolate(ngettext("Pasted one row.", "Pasted %(rows)s rows.", block.length), { rows: block.length })];
    if (beyond > 0) {
      const left = ngettext("One column did not fit and was left out.", "%(beyond)s columns did not fit and were left out.", beyond);
      parts.push(interpolate(left, { beyond }));
    }
    say([...parts, gettext("Undo takes it back.")].join(" "));
    changed();
    all[index]?.querySelector(`[name="${names[0]}"]`)?.focus();
  });
}
