// Putting bottles into places, or discarding them, scan after scan: the box keeps the focus, every
// scan is queued and sent, every answer is said in words, a sign and a sound. Without this script the
// same form sends one scan a page.
import { postScan, sayTrouble } from "./scanpost.js";
import { ScanQueue } from "./scanqueue.js";
import { Sounds } from "./sounds.js";
import { gettext, interpolate } from "./words.js";

const SIGNS = { accepted: "kept", stopped: "bar" };

const root = document.querySelector(".store");
const form = document.getElementById("store-form");
const box = document.getElementById("scan");
const said = document.getElementById("answer");
const line = document.getElementById("line");
const panel = document.getElementById("panel");
const sounds = new Sounds();

const queue = new ScanQueue({
  key: `labqueue-${root.dataset.page}-${root.dataset.person}`,
  standing: { place: form.elements.place.value },
  deliver: (entry, standing) => postScan(form, entry, standing),
  answered,
  troubled,
});

function answered(answer, entry) {
  line.hidden = true;
  said.className = `answer answer-${answer.tone}`;
  said.querySelector("use").setAttribute("href", `${root.dataset.shapes}#${SIGNS[answer.tone] ?? "note"}`);
  said.querySelector(".answer-word").textContent = answer.word;
  said.querySelector(".answer-sentence").textContent = answer.sentence;
  form.elements.place.value = answer.place;
  const hadFocus = panel.contains(document.activeElement);
  panel.innerHTML = answer.panel;
  if (hadFocus) box.focus();
  sounds.play(answer.tone);
  said.dataset.answered = entry.token;
}

function troubled(kind, waiting, entry) {
  if (line.hidden || kind === "refused") sounds.play("stopped");
  if (kind === "refused") {
    line.textContent = interpolate(gettext("“%(text)s” was not taken. Load the page anew and scan it again."), entry);
    line.hidden = false;
  } else {
    sayTrouble(line, kind, waiting, root.dataset.signIn);
  }
}

form.addEventListener("submit", (event) => {
  event.preventDefault();
  const text = box.value.trim();
  box.value = "";
  box.focus();
  if (text) queue.add(text);
});

// What a scanner types while something else has the focus goes into the box.
document.addEventListener("keydown", (event) => {
  const typing = event.key.length === 1 && event.key !== " ";
  const elsewhere = !event.target.closest("input, textarea, select, [contenteditable]");
  if (typing && elsewhere && !event.ctrlKey && !event.metaKey && !event.altKey) box.focus();
});

window.addEventListener("pageshow", () => box.focus());
box.focus();
queue.go();
