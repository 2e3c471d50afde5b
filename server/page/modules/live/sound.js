// The live area by ear: a steady reference tone, and an error tone that is brought to zero beat with it.

import { Ear, isWithin } from "./ear.js";
import { errorToneHz } from "./pitch.js";

/** @typedef {import("./types.js").Guidance} Guidance */

/** Pitches of the reference to choose from. None is so high that an older ear has lost it. */
export const REFERENCES_HZ = Object.freeze([400, 500, 600, 700]);

/** The error tone is the softer one, so that the two never cancel, whatever their phase. */
const REFERENCE_GAIN = 0.5;
const ERROR_GAIN = 0.35;
const HARMONIC_GAIN = 0.12;
const BLIP_GAIN = 0.25;

/** Pitch glides so fast that it follows a hand, and so slowly that it does not click. Seconds. */
const GLIDE_S = 0.012;
const FADE_S = 0.03;

/** Two blips, so long and so far apart, in seconds. */
const BLIP_S = 0.06;
const BLIP_EVERY_S = 0.13;

/**
 * @typedef {object} Graph
 * @property {BaseAudioContext} context
 * @property {OscillatorNode} reference
 * @property {OscillatorNode} error
 * @property {OscillatorNode} harmonic sounds while the reading is in the good zone
 * @property {GainNode} errorGain
 * @property {GainNode} harmonicGain
 * @property {GainNode} blipGain
 * @property {GainNode} master
 */

export class SoundEngine {
  #makeContext;
  /** @type {Graph | null} */
  #graph = null;
  #ear = new Ear();
  #volume = 0.5;
  #muted = false;
  #referenceHz = 500;
  /** What is being told, in good zones; null while there is nothing to hear. @type {number | null} */
  #ratio = null;
  #within = false;

  /** @param {() => BaseAudioContext} [makeContext] */
  constructor(makeContext = () => new AudioContext({ latencyHint: "interactive" })) {
    this.#makeContext = makeContext;
  }

  get on() {
    return this.#graph !== null;
  }

  get muted() {
    return this.#muted;
  }

  get volume() {
    return this.#volume;
  }

  get referenceHz() {
    return this.#referenceHz;
  }

  /** The audio graph while the sound is on, to be looked into. */
  get graph() {
    return this.#graph;
  }

  /** What sounds at this moment, by the graph's own word. */
  get frequencies() {
    const graph = this.#graph;
    if (graph === null) return null;
    const reference = graph.reference.frequency.value;
    const error = graph.error.frequency.value;
    return { reference, error, beat: error - reference, heard: this.#ratio !== null && !this.#muted, within: this.#within };
  }

  /** Begin to sound. Browsers allow it only from within a press. */
  async start() {
    if (this.#graph !== null) return;
    const context = this.#makeContext();
    this.#graph = build(context, this.#referenceHz);
    this.#apply();
    if (context instanceof AudioContext) await context.resume();
  }

  /** Fall silent and give the sound device back. */
  async stop() {
    const graph = this.#graph;
    this.#graph = null;
    if (graph !== null && graph.context instanceof AudioContext) await graph.context.close();
  }

  /** @param {number} volume from 0 to 1 */
  setVolume(volume) {
    this.#volume = Math.min(Math.max(volume, 0), 1);
    this.#apply();
  }

  /** @param {boolean} muted */
  mute(muted) {
    this.#muted = muted;
    this.#apply();
  }

  /** @param {number} referenceHz */
  setReference(referenceHz) {
    this.#referenceHz = referenceHz;
    this.#apply();
  }

  /** @param {Guidance} guidance */
  tell(guidance) {
    this.#ratio = this.#ear.hear(guidance);
    const within = isWithin(guidance);
    const entered = within && !this.#within;
    this.#within = within;
    this.#apply();
    if (entered && this.#graph !== null && this.#ratio !== null) blip(this.#graph);
  }

  /** There is nothing to hear: no guidance, or none that is fresh. */
  rest() {
    this.#ratio = null;
    this.#within = false;
    this.#apply();
  }

  /** Nothing to hear, and the next adjuster begins anew. */
  forget() {
    this.#ear.forget();
    this.rest();
  }

  #apply() {
    const graph = this.#graph;
    if (graph === null) return;
    const sounding = this.#ratio !== null;
    glide(graph, graph.reference.frequency, this.#referenceHz);
    glide(graph, graph.harmonic.frequency, 2 * this.#referenceHz);
    if (this.#ratio !== null) glide(graph, graph.error.frequency, errorToneHz(this.#ratio, this.#referenceHz));
    fade(graph, graph.master.gain, sounding && !this.#muted ? this.#volume * this.#volume : 0);
    fade(graph, graph.harmonicGain.gain, this.#within ? HARMONIC_GAIN : 0);
  }
}

/**
 * @param {BaseAudioContext} context
 * @param {number} referenceHz
 * @returns {Graph}
 */
function build(context, referenceHz) {
  const master = gain(context, 0);
  master.connect(context.destination);
  const part = (/** @type {number} */ hz, /** @type {GainNode} */ level) => {
    const tone = new OscillatorNode(context, { frequency: hz });
    tone.connect(level).connect(master);
    tone.start();
    return tone;
  };
  const errorGain = gain(context, ERROR_GAIN);
  const harmonicGain = gain(context, 0);
  const blipGain = gain(context, 0);
  const harmonic = part(2 * referenceHz, harmonicGain);
  harmonic.connect(blipGain).connect(master);
  const reference = part(referenceHz, gain(context, REFERENCE_GAIN));
  return { context, reference, error: part(referenceHz, errorGain), harmonic, errorGain, harmonicGain, blipGain, master };
}

/**
 * @param {BaseAudioContext} context
 * @param {number} level
 */
const gain = (context, level) => new GainNode(context, { gain: level });

/**
 * @param {Graph} graph
 * @param {AudioParam} frequency
 * @param {number} hz
 */
const glide = ({ context }, frequency, hz) => frequency.setTargetAtTime(hz, context.currentTime, GLIDE_S);

/**
 * @param {Graph} graph
 * @param {AudioParam} level
 * @param {number} to
 */
const fade = ({ context }, level, to) => level.setTargetAtTime(to, context.currentTime, FADE_S);

/**
 * Two soft blips an octave above the reference: the good zone has been entered.
 * @param {Graph} graph
 */
function blip({ context, blipGain }) {
  const begin = context.currentTime;
  blipGain.gain.cancelScheduledValues(begin);
  for (const at of [begin, begin + BLIP_EVERY_S]) {
    blipGain.gain.setTargetAtTime(BLIP_GAIN, at, BLIP_S / 6);
    blipGain.gain.setTargetAtTime(0, at + BLIP_S, BLIP_S / 6);
  }
}
