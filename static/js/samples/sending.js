// Sends the form without leaving the page, so that a lost session or network loses nothing.
// Every answer of the server is a whole page; its main part takes the place of ours.

export const SAVED = "saved";
export const REFUSED = "refused";
export const SIGNED_OUT = "signed out";
export const OTHER_PERSON = "other person";
export const FAULT = "fault";
export const NO_NETWORK = "no network";

async function pageOf(response) {
  return new DOMParser().parseFromString(await response.text(), "text/html");
}

function judged(response, page, keeper) {
  const form = page.querySelector("form[data-samples]");
  if (form) {
    if (form.dataset.keeper !== keeper) return OTHER_PERSON;
    return response.ok ? SAVED : REFUSED;
  }
  return page.querySelector("input[type=password]") ? SIGNED_OUT : FAULT;
}

async function fetched(address, options, keeper) {
  let response;
  try {
    response = await fetch(address, { credentials: "same-origin", ...options });
  } catch {
    return { outcome: NO_NETWORK };
  }
  const page = await pageOf(response);
  return { outcome: judged(response, page, keeper), page, status: response.status, address: response.url };
}

// A sign-in since the page was read gives the session another secret: take it from a fresh page.
async function freshSecret(address, keeper) {
  const answer = await fetched(address, { method: "GET" }, keeper);
  const secret = answer.page?.querySelector("form[data-samples] input[name=csrfmiddlewaretoken]");
  return { answer, secret: secret?.value ?? "" };
}

export async function send(form) {
  const keeper = form.dataset.keeper;
  const post = () => fetched(form.action, { method: "POST", body: new FormData(form) }, keeper);
  const answer = await post();
  if (answer.status !== 403 && answer.outcome !== SIGNED_OUT) return answer;
  const fresh = await freshSecret(form.action, keeper);
  if (!fresh.secret || fresh.answer.outcome === OTHER_PERSON) return fresh.answer;
  form.querySelector("input[name=csrfmiddlewaretoken]").value = fresh.secret;
  return post();
}
