// Keeps the page of a job up to date, and goes on when the job is done.
// Without it the page loads itself anew every few seconds.

const EVERY = 1000;
const PATIENCE = 10_000;

const job = document.getElementById("job");

/** Show how far the job is; false once there is something else to show. */
async function goesOn() {
  const answer = await fetch(location.href, { redirect: "manual" });
  if (answer.type === "opaqueredirect") return false;
  if (!answer.ok) throw new Error("the server does not answer");
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const fresh = page.getElementById("job");
  if (!fresh) return false;
  job.replaceChildren(...fresh.childNodes);
  return true;
}

async function keepLooking() {
  try {
    if (await goesOn()) setTimeout(keepLooking, EVERY);
    else location.reload(); // once: what comes next may take longer than a look
  } catch {
    setTimeout(keepLooking, PATIENCE); // the network is away; the work goes on without it
  }
}

if (job) setTimeout(keepLooking, EVERY);
