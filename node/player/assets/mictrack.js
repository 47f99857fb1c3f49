// @ts-check
/* The sound of a track as the device delivers it, block by block, where a
   browser hands it out: no clock of a loudspeaker to be matched, 50 ms sooner
   than by way of the audio thread, and no lag that stays after a stall. */
import { Pace } from "./micpace.js";

const HEAD = 8; // bytes with the number of a frame's first sample, as in micworklet.js
// The beginning of a capture is zeros and lost blocks: it is left out until none
// was lost for so long, but not for ever.
const CALM_SECONDS = 0.8, RESTLESS_SECONDS = 3;
// Stamps are followed quickly: what is lost is whole blocks at once.
const DRIFT = 0.1;
// Blocks of 10 to 23 ms that wait for a busy page; older ones are lost.
const WAITING = 128;

/** A browser may promise more than it keeps; then it is asked no more. */
let broken = false;

export class TrackPickup {
  /**
   * The pickup of a track, or null where this browser has none.
   * @param {MediaStreamTrack} track
   * @param {{format: string, frame: number, onframe: (frame: ArrayBuffer, age: number) => void, onend: () => void}} options
   *   a frame is sent once it has at least that many samples; age is in seconds
   */
  static of(track, options) {
    const Processor = /** @type {any} */ (window).MediaStreamTrackProcessor;
    if (!Processor || broken) return null;
    try {
      return new TrackPickup(new Processor({ track, maxBufferSize: WAITING }), options);
    } catch { // for video alone
      return null;
    }
  }

  constructor(processor, options) {
    this.reader = processor.readable.getReader();
    this.options = options;
    this.rate = 0;
    this.count = 0; // of samples, missing ones included
    this.received = 0; // samples
    this.calm = 0; // samples since the last loss, at the beginning
    this.sending = false;
    this.freshest = Infinity; // least age of a block, seconds
    /** @type {Float32Array[]} */ this.blocks = [];
    this.gathered = 0; // samples in blocks
  }

  get running() { return true; }

  async wake() {}

  /** @returns {Promise<number>} the sample rate, once the beginning is over; 0 when it never was */
  begin() {
    return new Promise((begun) => {
      this.begun = begun;
      this.read().catch(() => {
        broken = true;
        this.options.onend();
      }).then(() => begun(0));
    });
  }

  close() { this.reader.cancel().catch(() => {}); }

  async read() {
    for (;;) {
      const { value: data, done } = await this.reader.read();
      if (done) return;
      if (!this.rate) {
        this.rate = data.sampleRate;
        this.pace = new Pace(data.numberOfFrames / this.rate / 2, DRIFT);
      }
      if (data.sampleRate !== this.rate) { // another device took the first one's place
        data.close();
        this.close();
        return this.options.onend();
      }
      this.take(data);
      data.close();
    }
  }

  take(data) {
    const at = data.timestamp / 1e6; // of its capture
    const lost = this.pace.behind(at, this.received / this.rate);
    this.received += data.numberOfFrames;
    if (lost > 0) { // whole blocks
      this.send(at);
      this.count += Math.round(lost * this.rate / data.numberOfFrames) * data.numberOfFrames;
      this.calm = 0;
    }
    if (!this.sending) {
      this.count += data.numberOfFrames;
      this.calm += data.numberOfFrames;
      this.sending = this.calm >= CALM_SECONDS * this.rate || this.count >= RESTLESS_SECONDS * this.rate;
      if (this.sending) this.begun(this.rate);
      return;
    }
    this.blocks.push(mono(data));
    this.gathered += data.numberOfFrames;
    if (this.gathered >= this.options.frame) this.send(at);
  }

  /** Sends what was gathered. @param {number} at seconds, of its last block */
  send(at) {
    if (this.gathered === 0) return;
    const wide = this.options.format !== "s16";
    const frame = new ArrayBuffer(HEAD + this.gathered * (wide ? 4 : 2));
    const view = new DataView(frame);
    view.setBigUint64(0, BigInt(this.count), true);
    let to = HEAD;
    for (const block of this.blocks) for (const x of block) {
      if (wide) view.setFloat32(to, x, true);
      else view.setInt16(to, Math.max(-32768, Math.min(32767, Math.round(x * 32768))), true);
      to += wide ? 4 : 2;
    }
    this.count += this.gathered;
    this.blocks = [];
    this.gathered = 0;
    // The two clocks need not share their zero.
    const age = performance.now() / 1000 - at;
    this.freshest = Math.min(this.freshest, age);
    this.options.onframe(frame, age - this.freshest);
  }
}

/** The mean of a block's channels. @returns {Float32Array} */
function mono(data) {
  const out = new Float32Array(data.numberOfFrames), channel = new Float32Array(data.numberOfFrames);
  for (let c = 0; c < data.numberOfChannels; c++) {
    data.copyTo(channel, { planeIndex: c, format: "f32-planar" });
    for (let i = 0; i < out.length; i++) out[i] += channel[i] / data.numberOfChannels;
  }
  return out;
}
