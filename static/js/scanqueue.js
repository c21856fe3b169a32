// Scans on their way to the server: one after the other, in the order they were made, none lost.
// Each carries a token of its own, so that sending it again changes nothing. What is not yet
// answered is kept in the browser's store and sent after a lost network, a reload or a sign-in.

const LONGEST_PAUSE = 8000;

export class SignInNeeded extends Error {}
export class Refused extends Error {}

function newToken() {
  const bytes = crypto.getRandomValues(new Uint8Array(24));
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

export class ScanQueue {
  // deliver(entry, standing) resolves to the server's answer; it throws SignInNeeded or Refused,
  // or anything else where the network or the server failed and it is worth trying again.
  constructor({ key, standing, deliver, answered, troubled, store = window.localStorage }) {
    Object.assign(this, { key, deliver, answered, troubled, store });
    const kept = JSON.parse(store.getItem(key) ?? "null");
    this.waiting = kept?.waiting ?? [];
    this.standing = this.waiting.length ? kept.standing : standing;
    this.busy = false;
    this.pause = 0;
  }

  keep() {
    this.store.setItem(this.key, JSON.stringify({ standing: this.standing, waiting: this.waiting }));
  }

  add(text) {
    this.waiting.push({ token: newToken(), text, typed: Date.now() });
    this.keep();
    this.go();
  }

  async go() {
    if (this.busy) return;
    this.busy = true;
    while (this.waiting.length && (await this.first()));
    this.busy = false;
  }

  // Whether to go on with the next one.
  async first() {
    const entry = this.waiting[0];
    try {
      this.standing = this.take(await this.deliver(entry, this.standing));
    } catch (trouble) {
      return this.keepTrying(trouble, entry);
    }
    this.pause = 0;
    this.waiting.shift();
    this.keep();
    this.answered(this.last, entry);
    return true;
  }

  take(answer) {
    this.last = answer;
    return Object.fromEntries(Object.keys(this.standing).map((name) => [name, answer[name]]));
  }

  async keepTrying(trouble, entry) {
    if (trouble instanceof Refused) {
      this.waiting.shift();
      this.keep();
      this.troubled("refused", this.waiting.length, entry);
      return true;
    }
    if (trouble instanceof SignInNeeded) {
      this.troubled("sign-in", this.waiting.length, entry);
      return false;
    }
    this.troubled("network", this.waiting.length, entry);
    this.pause = Math.min(LONGEST_PAUSE, this.pause * 2 || 500);
    await new Promise((done) => {
      const early = () => done();
      window.addEventListener("online", early, { once: true });
      setTimeout(early, this.pause);
    });
    return true;
  }
}

// How many scans of other people wait in this browser for the same arrival.
export function waitingOfOthers(store, begins, own) {
  return Object.keys(store)
    .filter((key) => key.startsWith(begins) && key !== own)
    .reduce((count, key) => count + (JSON.parse(store.getItem(key) ?? "null")?.waiting?.length ?? 0), 0);
}
