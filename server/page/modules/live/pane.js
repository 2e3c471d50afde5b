// The live area of a step: what to do now, how far off it is, and the step key. Drawn from guidance as it comes.

import { make } from "../shared/dom.js";
import { Acts } from "./acts.js";
import { Now } from "./now.js";
import { QuestionView } from "./question.js";
import { SoundEngine } from "./sound.js";
import { SpokenSummary } from "./spoken.js";
import { StepKey } from "./step_key.js";
import { meaningOf } from "./step_meaning.js";
import { Tools } from "./tools.js";
import { summaryOf } from "./words.js";

/** @typedef {import("./types.js").Guidance} Guidance */
/** @typedef {import("./types.js").Question} Question */
/** @typedef {import("./types.js").Signal} Signal */

/**
 * What the area can have done. Each may fail with an error whose message is a sentence for the person.
 * @typedef {object} LiveActions
 * @property {(signal: Signal) => Promise<unknown>} signal
 * @property {(number: number, answer: string) => Promise<unknown>} answer
 * @property {((number: number) => Promise<unknown>) | null} [doForMe] on the practice bench only
 * @property {SoundEngine} [sound] one that outlives the area; without it the area has its own
 */

/** After so long without guidance, what is shown is no longer now. */
const STALE_MS = 6000;

/** A question that has only just appeared is not answered by a press that was meant for something else. */
const READ_FIRST_MS = 450;

/** So long after the person has finished, guidance that was still on its way is not drawn. */
const FINISHED_MS = 2500;

/** How long "press again to finish" holds. */
const SURE_MS = 6000;

export class LivePane {
  #actions;
  /** @type {SoundEngine} */
  sound;
  #now = new Now();
  #question = new QuestionView({ answer: (answer) => this.#answer(answer), doForMe: null });
  #acts = new Acts((signal) => this.#signal(signal));
  #spoken = new SpokenSummary();
  #key;
  element = make("section", { class: "live", "aria-label": "Live", tabindex: "-1", "data-state": "idle" });
  /** @type {Guidance | null} */
  #guidance = null;
  /** @type {Question | null} */
  #asked = null;
  /** When the pending question came, by the page's clock. */
  #askedAtMs = 0;
  /** The question whose answer is on its way. @type {number | null} */
  #answering = null;
  /** Until when guidance is what was still on its way after the person had finished, by the page's clock. */
  #finishedUntilMs = 0;
  #operating = true;
  #lost = false;
  #drawDue = false;
  #text = "";
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  #staleTimer;
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  #sureTimer;

  /** @param {LiveActions} actions */
  constructor(actions) {
    this.#actions = actions;
    this.sound = actions.sound ?? new SoundEngine();
    this.#key = new StepKey(this.element, () => this.#press());
    if (actions.doForMe) this.#question = new QuestionView({ answer: (answer) => this.#answer(answer), doForMe: () => this.#doForMe() });
    const tools = new Tools(this.sound, this.#key, this.element);
    this.element.append(tools.bar, this.#now.element, this.#question.element, this.#acts.element, tools.settings, this.#spoken.element);
    this.#draw();
  }

  /** @param {Guidance} guidance */
  show(guidance) {
    if (performance.now() < this.#finishedUntilMs) return;
    if (guidance.adjuster !== this.#guidance?.adjuster) this.#unsure();
    this.#guidance = guidance;
    this.#lost = false;
    this.#text = "";
    // The ear need not wait for the next frame.
    if (this.#asked === null) this.sound.tell(guidance);
    clearTimeout(this.#staleTimer);
    if (this.#asked === null) this.#staleTimer = setTimeout(() => this.#stale(), STALE_MS);
    this.#redraw();
  }

  /**
   * What the run waits for, or null where it waits for nothing.
   * @param {Question | null} question
   */
  ask(question) {
    if (question?.number === this.#asked?.number) return;
    this.#asked = question;
    this.#askedAtMs = performance.now();
    this.#finishedUntilMs = 0;
    this.#answering = null;
    this.#unsure();
    clearTimeout(this.#staleTimer);
    // What was shown beside a question is over with it.
    if (question === null) this.settle();
    else {
      this.sound.rest();
      this.#spoken.say(question.text, true);
    }
    this.#redraw();
  }

  /**
   * Nothing is to be turned or answered: the run measures, or there is none.
   * @param {string} [text] what goes on instead
   */
  settle(text = "") {
    clearTimeout(this.#staleTimer);
    this.#guidance = null;
    this.#text = text;
    this.sound.forget();
    this.#unsure();
    this.#redraw();
  }

  /** Empty, as at the beginning. */
  clear() {
    this.ask(null);
    this.settle();
  }

  /** The service is out of reach: what is shown is old. */
  lost() {
    this.#lost = true;
    this.sound.rest();
    this.#spoken.say("The service is out of reach; these figures are old.", true);
    this.#redraw();
  }

  /** The service answers again; what it says now follows. */
  found() {
    this.#lost = false;
    this.#redraw();
  }

  /**
   * Whether this page operates the bench or only watches.
   * @param {boolean} operating
   */
  operate(operating) {
    if (operating === this.#operating) return;
    this.#operating = operating;
    this.#redraw();
  }

  /** Take the focus, so that the step key reaches nothing else. */
  focus() {
    this.element.focus({ preventScroll: true });
  }

  /** Take leave: no more keys, no more sound. */
  end() {
    clearTimeout(this.#staleTimer);
    this.#unsure();
    this.#spoken.end();
    this.#key.end();
    if (this.#actions.sound === undefined) this.sound.stop();
    else this.sound.forget();
  }

  get #state() {
    if (this.#lost) return "lost";
    if (this.#asked !== null) return "asked";
    return this.#guidance === null ? "idle" : "live";
  }

  #redraw() {
    if (this.#drawDue) return;
    this.#drawDue = true;
    requestAnimationFrame(() => this.#draw());
  }

  #draw() {
    this.#drawDue = false;
    const entered = this.#enter(this.#state);
    // Where step and fit stands is shown beside the turn it asks for, and draws the turn itself.
    const beside = this.#asked?.action === "turn" && this.#guidance?.adjuster === this.#asked.subject;
    this.#question.show(this.#asked, { operating: this.#operating, drawn: beside });
    this.#question.wait(this.#answering !== null);
    const guidance = this.#asked === null || beside ? this.#guidance : null;
    this.#now.show(guidance, this.#asked === null ? this.#text : null, this.#lost, this.#asked?.text);
    this.#acts.show(this.#lost || beside ? null : guidance, this.#operating);
    if (guidance !== null && !this.#lost && !beside) {
      const summary = summaryOf(guidance);
      this.#spoken.say(summary);
      this.#now.describe(summary);
    }
    // Only now has it the height that it keeps while the adjuster is turned.
    if (entered && this.#state === "live" && this.#operating) reveal(this.element);
  }

  /**
   * @param {string} state
   * @returns {boolean} whether it is another than before
   */
  #enter(state) {
    if (this.element.dataset.state === state) return false;
    this.element.dataset.state = state;
    return true;
  }

  #stale() {
    this.sound.rest();
    this.#now.old();
  }

  /** The step key. */
  #press() {
    if (this.#lost) return this.#acts.hint("The service is out of reach.");
    if (!this.#operating) return this.#acts.hint("Another page operates the bench; take over first.");
    const meaning = meaningOf(this.#asked, this.#guidance, this.#sureTimer !== undefined);
    if (meaning.kind === "answer") this.#answer(meaning.answer);
    if (meaning.kind === "signal") this.#signal(meaning.signal);
    if (meaning.kind === "choose") this.#question.point();
    if (meaning.kind === "sure") this.#askToBeSure();
  }

  #askToBeSure() {
    this.#acts.sure(true);
    this.#spoken.say("Not within the limit yet. Press again to finish all the same.", true);
    this.#sureTimer = setTimeout(() => this.#unsure(), SURE_MS);
  }

  #unsure() {
    clearTimeout(this.#sureTimer);
    this.#sureTimer = undefined;
    this.#acts.sure(false);
  }

  /** @param {Signal} signal */
  async #signal(signal) {
    this.#unsure();
    const given = await this.#try(() => this.#actions.signal(signal));
    if (!given || signal === "step") return;
    this.#finishedUntilMs = performance.now() + FINISHED_MS;
    this.settle(signal === "done" ? "Finished. The bench measures what has become of it." : "Noted that it does not turn.");
  }

  /** @param {string} answer */
  async #answer(answer) {
    await this.#about((number) => this.#actions.answer(number, answer));
  }

  async #doForMe() {
    await this.#about((number) => this.#actions.doForMe?.(number) ?? Promise.resolve());
  }

  /**
   * Do something about the pending question, once.
   * @param {(number: number) => Promise<unknown>} act
   */
  async #about(act) {
    const asked = this.#asked;
    if (asked === null || this.#answering === asked.number) return;
    if (performance.now() - this.#askedAtMs < READ_FIRST_MS) return;
    this.#answering = asked.number;
    this.#redraw();
    if (!(await this.#try(() => act(asked.number)))) this.#answering = null;
    this.#redraw();
  }

  /**
   * @param {() => Promise<unknown>} act
   * @returns {Promise<boolean>} whether it was done
   */
  async #try(act) {
    try {
      await act();
      this.#acts.hint("");
      return true;
    } catch (error) {
      this.#acts.hint(error instanceof Error ? error.message : String(error));
      return false;
    }
  }
}

/**
 * Bring the area under the eye where it is not all in sight: whoever turns a slug cannot scroll.
 * @param {HTMLElement} area
 */
function reveal(area) {
  const { top, bottom } = area.getBoundingClientRect();
  if (top < 0 || bottom > innerHeight) area.scrollIntoView({ block: "start" });
}
