// Moving as on a sheet. Keys that a screen reader or the browser needs are left alone: only plain
// arrows, Enter and Ctrl+D in a field of a row are taken.

function atStart(field) {
  return field.selectionStart === 0 && field.selectionEnd === 0;
}

function atEnd(field) {
  return field.selectionStart === field.value.length && field.selectionEnd === field.value.length;
}

export function go(field) {
  if (!field) return;
  field.focus();
  field.select();
}

function vertically(rows, field, step, grow) {
  const place = rows.placeOf(field);
  let row = place.rows[place.index + step];
  if (!row && grow && rows.hasRoom()) row = rows.append();
  go(rows.fieldIn(row, place.name));
}

function sideways(rows, field, step) {
  const { row } = rows.placeOf(field);
  const shown = rows.shown(row);
  go(shown[shown.indexOf(field) + step]);
}

export function takeKeys(rows, repeatAbove) {
  rows.body.addEventListener("keydown", (event) => {
    const field = event.target;
    if (!field.matches(".sample-row input") || event.isComposing || event.altKey) return;
    if ((event.ctrlKey || event.metaKey) && !event.shiftKey && event.key.toLowerCase() === "d") {
      event.preventDefault();
      repeatAbove(field);
      return;
    }
    if (event.ctrlKey || event.metaKey) return;
    if (event.key === "Enter") {
      event.preventDefault();
      vertically(rows, field, event.shiftKey ? -1 : 1, !event.shiftKey);
    } else if (event.key === "ArrowDown" && !event.shiftKey) {
      event.preventDefault();
      vertically(rows, field, 1, false);
    } else if (event.key === "ArrowUp" && !event.shiftKey) {
      event.preventDefault();
      vertically(rows, field, -1, false);
    } else if (event.key === "ArrowRight" && !event.shiftKey && atEnd(field)) {
      event.preventDefault();
      sideways(rows, field, 1);
    } else if (event.key === "ArrowLeft" && !event.shiftKey && atStart(field)) {
      event.preventDefault();
      sideways(rows, field, -1);
    }
  });
}
