// Keeps time left true from minute to minute. The server says what time it is: the page's own
// clock only measures how long the page has been open. Nothing is read aloud while minutes pass;
// one polite sentence is said when a clock crosses a threshold.
// The words are those of intake/pictures/timeleft.py.

import { gettext, interpolate } from "./words.js";

const MINUTE = 60_000;

export function sayLength(milliseconds) {
  const minutes = Math.floor(Math.abs(milliseconds) / MINUTE);
  const days = Math.floor(minutes / 1440);
  const hours = Math.floor(minutes / 60) % 24;
  if (days >= 60) return interpolate(gettext("%(days)s days"), { days });
  if (days) return interpolate(gettext("%(days)s d %(hours)s h"), { days, hours });
  if (hours) return interpolate(gettext("%(hours)s h %(minutes)s min"), { hours, minutes: minutes % 60 });
  return interpolate(gettext("%(minutes)s min"), { minutes });
}

export function sayLeft(due, now) {
  const words = due < now ? gettext("over by %(length)s") : gettext("%(length)s left");
  return interpolate(words, { length: sayLength(now - due) });
}

export function urgencyOf(due, now, { soon, lastHours }) {
  const minutes = (due - now) / MINUTE;
  if (minutes < 0) return "run-out";
  if (minutes <= lastHours) return "last-hours";
  return minutes <= soon ? "soon" : "enough";
}

const WORDS = {
  "enough": gettext("time enough"),
  "soon": gettext("soon"),
  "last-hours": gettext("last hours"),
  "run-out": gettext("run out"),
};

function toneOf(sign) {
  return Object.keys(WORDS).find((tone) => sign.classList.contains(`sign-${tone}`));
}

function turn(sign, tone) {
  const former = toneOf(sign);
  if (!former || former === tone) return false;
  sign.classList.replace(`sign-${former}`, `sign-${tone}`);
  const use = sign.querySelector("use");
  use.setAttribute("href", use.getAttribute("href").replace(/#.*/, `#${tone}`));
  sign.lastElementChild.textContent = WORDS[tone];
  return true;
}

function announce(page, counts) {
  const said = page.getElementById("passing");
  const parts = Object.entries(counts).map(([tone, count]) => `${count} ${WORDS[tone]}`);
  if (!said || !parts.length) return;
  said.textContent = interpolate(gettext("Clocks that changed just now: %(clocks)s."), { clocks: parts.join(", ") });
}

export function keepTimeLeft(page) {
  const root = page.documentElement;
  const limits = { soon: Number(root.dataset.soon), lastHours: Number(root.dataset.lastHours) };
  const began = Date.parse(root.dataset.now);
  const opened = performance.now();
  const step = () => {
    const now = began + (performance.now() - opened);
    for (const place of page.querySelectorAll("[data-due]")) {
      const words = sayLeft(Date.parse(place.dataset.due), now);
      if (place.textContent !== words) place.textContent = words;
    }
    const counts = {};
    for (const sign of page.querySelectorAll("[data-urgency]")) {
      const tone = urgencyOf(Date.parse(sign.dataset.urgency), now, limits);
      if (turn(sign, tone)) counts[tone] = (counts[tone] ?? 0) + 1;
    }
    announce(page, counts);
  };
  if (!Number.isNaN(began) && page.querySelector("[data-due], [data-urgency]")) setInterval(step, MINUTE);
}
