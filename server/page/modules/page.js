// The page as a whole: the bench strip that is always in sight, and below it the one part that is in view.

import { OutputAlarm } from "./bench/output_alarm.js";
import { createBenchStrip } from "./bench/strip.js";
import { WorkBar } from "./bench/work_bar.js";
import { listenForActs } from "./fragments/acts.js";
import { FragmentView } from "./fragments/view.js";
import { StepWork } from "./job/step_work.js";
import { PracticeBeside } from "./practice/beside.js";
import { SoundEngine } from "./live/sound.js";
import { ScanPage } from "./scan/page.js";
import { createAnnouncer } from "./shared/announce.js";
import { createApi, sentence } from "./shared/api.js";
import { createBanners } from "./shared/banners.js";
import { createNavigation } from "./shared/navigation.js";
import { readPlace, watchPlace } from "./shared/router.js";
import { listenForShortcuts } from "./shared/shortcuts.js";
import { Situation } from "./shared/situation.js";
import { openLive } from "./shared/stream.js";

/** @typedef {import("./shared/types.js").Bench} Bench */
/** @typedef {import("./shared/types.js").LiveItem} LiveItem */

/**
 * What every part of the page may use.
 * @typedef {object} Context
 * @property {import("./shared/api.js").Api} api
 * @property {import("./shared/announce.js").Announce} announce
 * @property {Situation} situation
 * @property {SoundEngine} sound switched on once for all steps
 * @property {(text: string) => void} refuse say across the page that something was refused
 * @property {() => void} takeOver
 * @property {() => void} lookAgain
 */

/**
 * One part of the page: what can be in view.
 * @typedef {object} View
 * @property {string} title as the window's title tells it
 * @property {HTMLElement} host
 * @property {(place: import("./shared/router.js").Place, moved: boolean) => void} show
 * @property {() => void} hide
 * @property {(bench: Bench) => void} bench
 * @property {() => void} situation what may be done from this page has changed
 * @property {(item: import("./shared/types.js").LiveEvent) => void} take
 * @property {() => Promise<void>} reread some events may have been missed
 */

export class Page {
  #client;
  #api;
  #announce = createAnnouncer();
  #banners = createBanners();
  #strip = createBenchStrip({ outputOff: () => this.#outputOff() });
  #alarm = new OutputAlarm(this.#announce);
  #work = new WorkBar();
  #navigation = createNavigation();
  #situation;
  #scan;
  #practice;
  #step;
  #fragments;
  /** @type {Record<string, View>} */
  #views;
  /** @type {View | null} */
  #view = null;

  /** @param {string} client this tab's name */
  constructor(client) {
    this.#client = client;
    this.#api = createApi(client);
    this.#situation = new Situation({
      strip: this.#strip,
      banners: this.#banners,
      takeOver: () => this.#takeOver(),
      lookAgain: () => this.#lookAgain(),
      onChange: () => this.#situationChanged(),
      work: () => this.#workText(),
      announce: this.#announce,
    });
    const context = {
      api: this.#api,
      announce: this.#announce,
      situation: this.#situation,
      sound: new SoundEngine(),
      refuse: (/** @type {string} */ text) => this.#refuse(text),
      takeOver: () => this.#takeOver(),
      lookAgain: () => this.#lookAgain(),
    };
    this.#scan = new ScanPage(context);
    this.#practice = new PracticeBeside(this.#api);
    this.#step = new StepWork(context, this.#practice);
    this.#fragments = new FragmentView(context, (body) => this.#drawn(body));
    this.#views = { jobs: this.#fragments, scan: this.#scan, scans: this.#scan, records: this.#fragments, bench: this.#fragments };
    listenForActs({ ...context, refresh: () => this.#fragments.refresh() });
  }

  /** Begin: listen to the keyboard and to the service, and show what there is. */
  start() {
    listenForShortcuts({
      scan: () => this.#view === this.#scan && this.#scan.submit(),
      stop: () => this.#stop(),
      outputOff: () => this.#outputOff(),
    });
    watchPlace((place) => this.#go(place, true));
    this.#go(readPlace(), false);
    this.#listen();
  }

  /**
   * @param {import("./shared/router.js").Place} place
   * @param {boolean} moved
   */
  #go(place, moved) {
    const name = place.path[0] ?? "jobs";
    const next = this.#views[name] ?? this.#fragments;
    if (this.#view !== next) {
      this.#view?.hide();
      for (const each of Object.values(this.#views)) each.host.hidden = true;
      next.host.hidden = false;
      this.#view = next;
      if (moved) scrollTo(0, 0);
    }
    this.#navigation.mark(name);
    next.show(place, moved);
    this.#work.look(place);
    if (next.title !== "") document.title = `${next.title} · Peakwright`;
    if (moved && next.title !== "") this.#announce(next.title);
    this.#situationChanged();
  }

  /**
   * A hidden tab that only watches gives its stream back: browsers allow few to one address. The operator's stream is
   * its heartbeat and stays.
   */
  #listen() {
    const live = openLive(this.#client, {
      onItems: (items) => this.#items(items),
      onOpen: () => this.#opened(),
      onLost: () => this.#situation.lost(),
    });
    document.addEventListener("visibilitychange", () => {
      if (document.visibilityState === "visible") live.wake();
      else if (!this.#situation.operating) live.sleep();
    });
    addEventListener("online", () => live.wake());
  }

  /** @param {LiveItem[]} items */
  #items(items) {
    for (const item of items) {
      if ("bench" in item) this.#bench(item.bench);
      else if ("missed" in item) this.#reread();
      else if ("job" in item) this.#fragments.refresh();
      else this.#event(item);
    }
  }

  /** @param {import("./shared/types.js").LiveEvent} item */
  #event(item) {
    if (item.event.kind === "SourceChanged") this.#strip.output(item.event.output_on);
    if (this.#situation.known?.session) this.#step.take(item);
    else this.#scan.take(item);
  }

  /** @param {Bench} bench */
  #bench(bench) {
    this.#situation.bench(bench);
    this.#alarm.show(bench.output_alarm ?? null);
    for (const view of new Set(Object.values(this.#views))) view.bench(bench);
    this.#step.situation();
    this.#work.show(bench);
  }

  /**
   * The stream stands, for the first time or again: what was missed is read from the service. How the bench stands the
   * stream says itself, first of all; asked for beside it, an older answer could come after a newer one.
   */
  async #opened() {
    const again = this.#situation.found();
    try {
      if (again) await this.#reread();
      else await Promise.all([this.#scan.opened(), this.#step.reread()]);
    } catch {
      // The stream says in a moment that the service is out of reach, and comes here again when it is back.
    }
  }

  async #reread() {
    await Promise.all([this.#step, ...new Set(Object.values(this.#views))].map((part) => part.reread()));
  }

  /**
   * A part has come from the service: what the page itself keeps up takes its place in it.
   * @param {HTMLElement} body
   */
  #drawn(body) {
    this.#step.drawn(body);
    for (const host of body.querySelectorAll("[data-practice]"))
      if (host.firstChild !== this.#practice.element) host.replaceChildren(this.#practice.element);
    this.#practice.show(this.#situation.known);
  }

  #situationChanged() {
    for (const view of new Set(Object.values(this.#views ?? {}))) view.situation();
    this.#step?.situation();
  }

  /** @returns {string | null} */
  #workText() {
    const session = this.#situation.known?.session;
    if (session) return `during the step “${session.title}”`;
    const { running } = this.#scan;
    // A run whose end was heard is over, even while its kept record is still on its way.
    return running === null || running.ending !== null ? null : `after reading ${running.readings.size}`;
  }

  async #stop() {
    if (this.#situation.known?.session) await this.#stopStep();
    else if (this.#scan.running !== null) await this.#scan.stop();
  }

  async #stopStep() {
    try {
      await this.#api.stop();
      this.#announce("Stop asked for.");
    } catch (error) {
      this.#refuse(sentence(error));
    }
  }

  async #outputOff() {
    try {
      await this.#api.outputOff();
      this.#banners.clear("run");
      this.#announce("Output off asked for.");
    } catch (error) {
      this.#refuse(`The output may still be on: ${sentence(error)} Switch it off at the source itself.`);
    }
  }

  async #takeOver() {
    try {
      await this.#api.takeOver();
      this.#announce("You operate the bench now.");
    } catch (error) {
      this.#refuse(sentence(error));
    }
  }

  async #lookAgain() {
    try {
      this.#bench(await this.#api.lookAgain());
      this.#announce("The bench has been looked over again.");
    } catch (error) {
      this.#refuse(sentence(error));
    }
  }

  /** @param {string} text */
  #refuse(text) {
    this.#banners.show("run", {
      symbol: "cross",
      tone: "grave",
      text,
      button: { label: "Close", act: () => this.#banners.clear("run") },
    });
  }
}
