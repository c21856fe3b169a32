// The desk: the box keeps the focus, every scan is queued and sent, every answer is said in
// words, a sign and a sound. Without this script the same form sends one scan a page.
import { postScan, sayTrouble } from "./scanpost.js";
import { ScanQueue, waitingOfOthers } from "./scanqueue.js";
import { Sounds } from "./sounds.js";
import { gettext, interpolate, ngettext } from "./words.js";

const SIGNS = { accepted: "kept", stopped: "bar", ask: "caution" };
const LABELS = { ph: gettext("pH on the strip"), remark: gettext("What is wrong") };

const root = document.querySelector(".desk");
const form = document.getElementById("desk-form");
const box = document.getElementById("scan");
const said = document.getElementById("answer");
const line = document.getElementById("line");
const stops = document.getElementById("stops");
const sounds = new Sounds();

const begins = `labqueue-desk-${root.dataset.arrival}-`;
const queue = new ScanQueue({
  key: begins + root.dataset.person,
  standing: Object.fromEntries(["on", "asking", "marks"].map((name) => [name, form.elements[name].value])),
  deliver: (entry, standing) => postScan(form, entry, standing),
  answered,
  troubled,
});

function answered(answer, entry) {
  line.hidden = true;
  said.className = `answer answer-${answer.tone}`;
  const use = said.querySelector("use");
  use.setAttribute("href", `${root.dataset.shapes}#${SIGNS[answer.tone] ?? "note"}`);
  said.querySelector(".answer-word").textContent = answer.word;
  said.querySelector(".answer-sentence").textContent = answer.sentence;
  said.querySelector(".answer-left").textContent = answer.left;
  document.getElementById("scan-label").textContent = LABELS[answer.asking] ?? gettext("Scan");
  for (const name of ["on", "asking", "marks"]) form.elements[name].value = answer[name];
  swap("panel", answer.panel);
  swap("progress", answer.progress);
  if (answer.left) stopped(answer.left);
  if (answer.tone === "stopped") stopped(`${answer.word}: ${answer.sentence}`);
  sounds.play(answer.left && answer.tone === "look" ? "stopped" : answer.tone);
  said.dataset.answered = entry.token;
}

function swap(id, html) {
  const place = document.getElementById(id);
  const hadFocus = place.contains(document.activeElement);
  const still = place.querySelector(".desk-still")?.scrollTop;
  place.innerHTML = html;
  if (still) place.querySelector(".desk-still")?.scrollTo(0, still);
  if (hadFocus) box.focus();
}

function stopped(sentence) {
  const item = document.createElement("li");
  item.textContent = sentence;
  stops.querySelector("ol").prepend(item);
  stops.hidden = false;
}

function troubled(kind, waiting, entry) {
  if (kind === "refused") {
    stopped(interpolate(gettext("“%(text)s” was not taken. Load the page anew and scan it again."), entry));
    sounds.play("stopped");
    return;
  }
  if (line.hidden) sounds.play("stopped");
  sayTrouble(line, kind, waiting, root.dataset.signIn);
}

form.addEventListener("submit", (event) => {
  event.preventDefault();
  const text = event.submitter?.name === "key" ? event.submitter.value : box.value.trim();
  if (event.submitter?.name !== "key") box.value = "";
  box.focus();
  // A scanner that ends a code with two Enters sends nothing the second time.
  if (text) queue.add(text);
});

box.addEventListener("keydown", (event) => {
  const plain = !event.ctrlKey && !event.metaKey && !event.altKey;
  if (event.key !== " " || box.value !== "" || !plain || queue.standing.asking === "remark") return;
  event.preventDefault();
  if (!event.repeat) queue.add(".OK");
});

// What is typed elsewhere on the page goes into the box; keys that move or press stay theirs.
document.addEventListener("keydown", (event) => {
  const typing = event.key.length === 1 && event.key !== " ";
  const elsewhere = !event.target.closest("input, textarea, select, [contenteditable]");
  if (typing && elsewhere && !event.ctrlKey && !event.metaKey && !event.altKey) box.focus();
});

// A touch beside the controls gives the focus back to the box, unless words are being marked.
document.addEventListener("click", (event) => {
  const meant = event.target.closest("a, button, input, select, textarea, summary, label, [tabindex='0']");
  if (!meant && getSelection().isCollapsed) box.focus();
});

window.addEventListener("pageshow", () => box.focus());

const button = document.getElementById("sound");
const label = () => {
  button.setAttribute("aria-pressed", String(sounds.on));
  button.textContent = sounds.on ? gettext("Sound on") : gettext("Sound off");
};
button.addEventListener("click", () => {
  sounds.turn();
  label();
  box.focus();
});
button.hidden = false;
label();

const others = waitingOfOthers(localStorage, begins, queue.key);
if (others) {
  const words = ngettext(
    "One scan of somebody else waits in this browser. It is sent when that person signs in here and opens this desk.",
    "%(others)s scans of somebody else wait in this browser. They are sent when that person signs in here and opens this desk.",
    others,
  );
  line.textContent = interpolate(words, { others });
  line.hidden = false;
}
box.focus();
queue.go();
