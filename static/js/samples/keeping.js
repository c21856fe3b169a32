// What is typed stays on this device until the server has it. One entry for each person and
// consignment; another person signed in on the same device never sees it.

export class Keeper {
  constructor(key) {
    this.key = key;
  }

  read() {
    try {
      return JSON.parse(localStorage.getItem(this.key) ?? "null");
    } catch {
      return null;
    }
  }

  // Says whether it was kept: storage may be full or forbidden.
  keep(entry) {
    try {
      localStorage.setItem(this.key, JSON.stringify({ ...entry, at: Date.now() }));
      return true;
    } catch {
      return false;
    }
  }

  forget() {
    try {
      localStorage.removeItem(this.key);
    } catch {
      // Nothing was kept where nothing can be.
    }
  }
}

export function sameRows(one, other) {
  return JSON.stringify(one) === JSON.stringify(other);
}
