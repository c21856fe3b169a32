// Choosing many bottles of the queue at once. Without scripts boxes are ticked one by one.

import { gettext, interpolate } from "./words.js";

function say(form) {
  const boxes = [...form.querySelectorAll('input[name="bottle"]')];
  const count = boxes.filter((box) => box.checked).length;
  const all = document.getElementById("select-all");
  const words = gettext("%(count)s of %(all)s shown selected.");
  document.getElementById("chosen").textContent = count ? interpolate(words, { count, all: boxes.length }) : "";
  all.textContent = count === boxes.length ? all.dataset.none : all.dataset.all;
}

function turn(boxes, form) {
  const on = !boxes.every((box) => box.checked);
  for (const box of boxes) box.checked = on;
  say(form);
}

// With Shift held, the boxes between the last one and this follow it, by mouse and by space bar.
function keepRange(form) {
  let last = null;
  let shift = false;
  form.addEventListener("keydown", (event) => { shift = event.shiftKey; });
  form.addEventListener("keyup", (event) => { if (event.key !== " ") shift = event.shiftKey; });
  form.addEventListener("click", (event) => {
    const box = event.target.closest('input[name="bottle"]');
    if (!box) return;
    const boxes = [...form.querySelectorAll('input[name="bottle"]')];
    if ((event.shiftKey || shift) && last) {
      const ends = [boxes.indexOf(last), boxes.indexOf(box)].sort((a, b) => a - b);
      for (const between of boxes.slice(ends[0], ends[1] + 1)) between.checked = box.checked;
    }
    last = box;
    say(form);
  });
}

const form = document.getElementById("choice");
if (form) {
  const all = document.getElementById("select-all");
  all.dataset.all = all.textContent;
  all.dataset.none = gettext("Select none");
  all.addEventListener("click", () => turn([...form.querySelectorAll('input[name="bottle"]')], form));
  for (const button of form.querySelectorAll("[data-selects]")) {
    button.addEventListener("click", () => {
      turn([...button.closest("tbody").querySelectorAll('input[name="bottle"]')], form);
    });
  }
  keepRange(form);
  say(form);
}

const print = document.getElementById("print");
if (print) {
  print.addEventListener("click", () => window.print());
}
