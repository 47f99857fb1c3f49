// @ts-check
/* The sound of a track by way of the audio thread (micworklet.js), which every
   browser has. It is paced by the clock of the output: when that stands still,
   sound goes on coming in, and the browser may hold it back ever after. */
import { Pace } from "./micpace.js";

// More room than "interactive": on a starved laptop 20 ms damaged every third
// note and 50 ms none, and cost 30 ms of the time to an answer.
const ROOM_SECONDS = 0.05;
// How far the audio thread falls behind before its source is made anew: more
// than its room, and what a player would notice.
const BEHIND_SECONDS = 0.1;
// A clock of sound runs within this of the system's, and the audio thread falls
// behind by a few hundredths of a second at a time.
const DRIFT = 0.001;
const LOOK = 100; // ms between looks at its clock

export class GraphPickup {
  /**
   * @param {MediaStream} stream
   * @param {{format: string, frame: number, onframe: (frame: ArrayBuffer, age: number) => void, onstate: () => void}} options
   *   frame is in samples; age is in seconds
   */
  constructor(stream, options) {
    this.stream = stream;
    this.options = options;
    const context = this.context = new AudioContext({ latencyHint: ROOM_SECONDS });
    context.onstatechange = () => options.onstate();
    this.looking = 0;
    this.pace = new Pace(BEHIND_SECONDS, DRIFT);
  }

  get running() { return this.context.state === "running"; }

  async wake() { await this.context.resume().catch(() => {}); }

  /** @returns {Promise<number>} the sample rate */
  async begin() {
    const { context, options } = this;
    await context.audioWorklet.addModule("micworklet.js");
    const gatherer = this.gatherer = new AudioWorkletNode(context, "gatherer", {
      numberOfInputs: 1, numberOfOutputs: 0, channelCount: 1, channelCountMode: "explicit",
      channelInterpretation: "speakers", processorOptions: { format: options.format, frame: options.frame },
    });
    gatherer.port.onmessage = (e) => options.onframe(e.data.frame, context.currentTime - e.data.at);
    this.looking = setInterval(() => this.look(), LOOK);
    await Promise.race([context.resume(), new Promise((done) => setTimeout(done, 500))]);
    this.attach();
    return context.sampleRate;
  }

  close() {
    clearInterval(this.looking);
    this.context.onstatechange = null;
    this.context.close();
  }

  /** Connects a new source: what waited in the one before is dropped. */
  attach() {
    this.source?.disconnect();
    this.source = this.context.createMediaStreamSource(this.stream);
    this.source.connect(/** @type {AudioWorkletNode} */ (this.gatherer));
  }

  /** Keeps up when the audio thread fell behind, and counts what that drops. */
  look() {
    const lost = this.pace.behind(performance.now() / 1000, this.context.currentTime);
    if (lost === 0) return;
    this.attach();
    this.gatherer?.port.postMessage(Math.round(lost * this.context.sampleRate));
  }
}
