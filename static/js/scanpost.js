// One scan to the server, and what to say where none of the answers could be had.
import { Refused, SignInNeeded } from "./scanqueue.js";
import { gettext, interpolate, ngettext } from "./words.js";

const TOO_LONG = 15_000;

// Resolves to the server's answer; throws SignInNeeded, Refused, or anything else worth trying again.
export async function postScan(form, entry, standing) {
  const body = new URLSearchParams({
    ...standing,
    text: entry.text,
    token: entry.token,
    age_s: String(Math.max(0, (Date.now() - entry.typed) / 1000)),
  });
  const send = () =>
    fetch(form.action, {
      method: "POST",
      headers: { Accept: "application/json", "X-CSRFToken": form.elements.csrfmiddlewaretoken.value },
      body,
      redirect: "manual",
      signal: AbortSignal.timeout(TOO_LONG),
    });
  let response = await send();
  if (response.status === 403) {
    // Somebody signed in anew in another window: the form's secret is old.
    await renewSecret(form);
    response = await send();
  }
  if (response.status === 401 || response.type === "opaqueredirect") throw new SignInNeeded();
  if (response.status >= 500) throw new Error("the server failed");
  if (!response.ok) throw new Refused();
  return response.json();
}

async function renewSecret(form) {
  const response = await fetch(form.action, { headers: { Accept: "text/html" } });
  const page = new DOMParser().parseFromString(await response.text(), "text/html");
  const secret = page.querySelector(`#${form.id} [name=csrfmiddlewaretoken]`);
  if (!secret) throw new SignInNeeded();
  form.elements.csrfmiddlewaretoken.value = secret.value;
}

// The line under the box: signed out, or no connection; how many scans are kept meanwhile.
export function sayTrouble(line, kind, waiting, signIn) {
  line.textContent = "";
  if (kind === "sign-in") {
    const link = document.createElement("a");
    link.href = `${signIn}?next=${encodeURIComponent(location.pathname)}`;
    link.textContent = gettext("Sign in");
    const kept = ngettext("One scan is kept here.", "%(waiting)s scans are kept here.", waiting);
    const then = gettext("; then this page goes on by itself.");
    line.append(gettext("You are signed out.") + " ", link, `${then} ${interpolate(kept, { waiting })}`);
  } else {
    const kept = ngettext(
      "No connection to the server. One scan is kept here and sent as soon as it is back. You can go on scanning.",
      "No connection to the server. %(waiting)s scans are kept here and sent as soon as it is back. You can go on scanning.",
      waiting,
    );
    line.append(interpolate(kept, { waiting }));
  }
  line.hidden = false;
}
