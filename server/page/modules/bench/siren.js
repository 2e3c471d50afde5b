// Two tones in turns, for as long as the source may be on. Heard once the page has been touched: browsers ask for that.

const HIGH_HZ = 740;
const LOW_HZ = 554;
const TURN_S = 0.4;
const GAIN = 0.4;

export class Siren {
  #makeContext;
  /** @type {{context: AudioContext, oscillator: OscillatorNode, timer: number} | null} */
  #playing = null;

  /** @param {() => AudioContext} [makeContext] */
  constructor(makeContext = () => new AudioContext()) {
    this.#makeContext = makeContext;
  }

  start() {
    if (this.#playing !== null) return;
    const context = this.#makeContext();
    const oscillator = new OscillatorNode(context, { type: "square", frequency: HIGH_HZ });
    oscillator.connect(new GainNode(context, { gain: GAIN })).connect(context.destination);
    oscillator.start();
    let high = true;
    const timer = setInterval(() => {
      high = !high;
      oscillator.frequency.value = high ? HIGH_HZ : LOW_HZ;
    }, TURN_S * 1000);
    this.#playing = { context, oscillator, timer };
    if (context.state === "suspended") this.#waitForTouch(context);
  }

  stop() {
    if (this.#playing === null) return;
    const { context, oscillator, timer } = this.#playing;
    this.#playing = null;
    clearInterval(timer);
    oscillator.stop();
    void context.close();
  }

  /** @param {AudioContext} context */
  #waitForTouch(context) {
    const resume = () => {
      if (this.#playing?.context === context) void context.resume();
    };
    for (const touch of ["pointerdown", "keydown"]) addEventListener(touch, resume, { once: true });
  }
}
