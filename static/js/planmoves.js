// Dragging a bottle to another place of the plan. While it hovers over a place the page asks what
// that would cost; nothing is moved before a person confirms. Without this script the buttons
// beside each bottle and the form on its own page do the same.

const AFTER = 120; // milliseconds a bottle rests on a place before its cost is asked for
const EDGE = 60; // pixels from the edge of the window within which the page scrolls along

const panel = document.getElementById("moving");
const where = panel?.querySelector(".moving-where");
const cost = panel?.querySelector(".moving-cost");
const [confirm, leave] = panel?.querySelectorAll("button") ?? [];
let taken = null;
let target = null;
let asked = 0;
let timer;

function rowAt(event) {
  const row = document.elementFromPoint(event.clientX, event.clientY)?.closest("tr[data-sample]");
  if (!row || row === taken) return null;
  return row.closest("table").dataset.line === taken.closest("table").dataset.line ? row : null;
}

function mark(row) {
  target?.classList.remove("is-target");
  target = row;
  target?.classList.add("is-target");
}

function show(sentences, possible, costs) {
  cost.textContent = sentences.join(" ");
  panel.classList.toggle("costs", costs);
  confirm.hidden = !possible;
}

async function askCost() {
  const number = ++asked;
  const query = new URLSearchParams({ run: panel.elements.run.value, sample: panel.elements.sample.value });
  try {
    const answer = await fetch(`${panel.getAttribute("action")}cost/?${query}`);
    if (!answer.ok) throw new Error(answer.statusText);
    const said = await answer.json();
    if (number === asked) show(said.sentences, said.possible, Boolean(said.costs));
  } catch {
    // The cost could not be asked for; the move itself tells it afterwards.
    if (number === asked) show([], true, false);
  }
}

function hover(row) {
  if (row === target) return;
  mark(row);
  clearTimeout(timer);
  if (!row) return;
  panel.hidden = false;
  panel.action = taken.dataset.address;
  panel.elements.run.value = row.closest("table").dataset.run;
  panel.elements.sample.value = Number(row.dataset.sample) + 1;
  const moment = row.querySelector("time").textContent;
  where.textContent = `${taken.querySelector("th").textContent.trim()} → ${panel.dataset.there} ${row.dataset.place}, ${moment}`;
  show([panel.dataset.working], false, false);
  timer = setTimeout(askCost, AFTER);
}

function scrollAlong(event) {
  if (event.clientY < EDGE) window.scrollBy(0, -EDGE / 3);
  if (event.clientY > window.innerHeight - EDGE) window.scrollBy(0, EDGE / 3);
}

function end() {
  document.body.classList.remove("dragging");
  taken?.classList.remove("is-taken");
}

function cancel() {
  clearTimeout(timer);
  asked++;
  end();
  mark(null);
  panel.hidden = true;
  taken = null;
}

function take(event) {
  const grip = event.target.closest(".grip");
  if (!grip || event.button) return;
  event.preventDefault();
  if (taken) cancel();
  taken = grip.closest("tr");
  taken.classList.add("is-taken");
  document.body.classList.add("dragging");
  grip.setPointerCapture(event.pointerId);
  const move = (moved) => {
    scrollAlong(moved);
    hover(rowAt(moved));
  };
  const stop = (stopped) => {
    grip.removeEventListener("pointermove", move);
    if (stopped.type === "pointerup" && target) {
      end();
      confirm.focus({ preventScroll: true });
      return;
    }
    cancel();
  };
  grip.addEventListener("pointermove", move);
  grip.addEventListener("pointerup", stop, { once: true });
  grip.addEventListener("pointercancel", stop, { once: true });
}

if (panel) {
  for (const grip of document.querySelectorAll(".grip")) grip.hidden = false;
  document.addEventListener("pointerdown", take);
  leave.addEventListener("click", cancel);
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && taken) cancel();
  });
}
