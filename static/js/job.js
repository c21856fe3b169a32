// Keeps the page of a job up to date, and goes on when the job is done.
// Without it the page loads itself anew every few seconds.

const EVERY = 1000;
const PATIENCE = 10_000;

const job = document.getElementById("job");

async function look() {
  const answer = await fetch(location.href, { redirect: "manual", headers: { "X-Requested-With": "fetch" } });
  if (answer.type === "opaqueredirect") {
    location.reload();
    return EVERY;
  }
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const fresh = page.getElementById("job");
  if (!answer.ok || !fresh) {
    location.reload();
    return PATIENCE;
  }
  job.replaceChildren(...fresh.childNodes);
  return EVERY;
}

async function keepLooking() {
  let pause = EVERY;
  try {
    pause = await look();
  } catch {
    pause = PATIENCE; // the network is away; the work goes on without it
  }
  setTimeout(keepLooking, pause);
}

if (job) setTimeout(keepLooking, EVERY);
