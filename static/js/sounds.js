// Four short sounds, told apart by number, height and length. What they say is always written
// on the screen as well.

const TONES = {
  // [frequency in Hz, start in s, length in s], wave
  accepted: { wave: "sine", notes: [[880, 0, 0.08], [1320, 0.09, 0.14]] },
  stopped: { wave: "square", notes: [[220, 0, 0.22], [165, 0.27, 0.35]] },
  ask: { wave: "triangle", notes: [[660, 0, 0.09], [660, 0.14, 0.09]] },
  look: { wave: "sine", notes: [[1040, 0, 0.04]] },
};
const LOUDNESS = { sine: 0.25, triangle: 0.3, square: 0.12 };
const KEY = "labqueue-desk-sound";

export class Sounds {
  constructor(store = window.localStorage) {
    this.store = store;
    this.on = store.getItem(KEY) !== "off";
  }

  turn() {
    this.on = !this.on;
    this.store.setItem(KEY, this.on ? "on" : "off");
    return this.on;
  }

  play(name) {
    const tone = TONES[name];
    if (!this.on || !tone || !window.AudioContext) return;
    this.context ??= new AudioContext();
    // A browser lets a page sound only after a key or a touch; until then it stays silent.
    this.context.resume().catch(() => {});
    for (const [frequency, start, length] of tone.notes) this.note(tone.wave, frequency, start, length);
  }

  note(wave, frequency, start, length) {
    const at = this.context.currentTime + start;
    const source = new OscillatorNode(this.context, { type: wave, frequency });
    const loudness = new GainNode(this.context, { gain: 0 });
    loudness.gain.linearRampToValueAtTime(LOUDNESS[wave], at + 0.01);
    loudness.gain.setValueAtTime(LOUDNESS[wave], at + length - 0.02);
    loudness.gain.linearRampToValueAtTime(0, at + length);
    source.connect(loudness).connect(this.context.destination);
    source.start(at);
    source.stop(at + length);
  }
}
