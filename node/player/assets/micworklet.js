// @ts-check
/* Runs on the browser's audio thread: gathers the microphone's samples into
   frames and numbers them. A frame is 8 bytes with the number of its first
   sample, little-endian, and then the samples (f32 or s16). */

const HEAD = 8;
// The beginning of a capture is zeros, gaps and jumps while the browser
// matches clocks.
const SKIP_SECONDS = 0.3;

class Gatherer extends AudioWorkletProcessor {
  constructor(options) {
    super();
    this.wide = options.processorOptions.format !== "s16";
    this.length = options.processorOptions.frame; // samples
    this.skip = SKIP_SECONDS * sampleRate;
    this.count = 0; // of samples, missing ones included
    this.fresh();
    // A new source, and how many samples were dropped with the old one.
    this.port.onmessage = (e) => {
      this.send();
      this.count += e.data;
      this.skip = SKIP_SECONDS * sampleRate;
    };
  }

  fresh() {
    this.buffer = new ArrayBuffer(HEAD + this.length * (this.wide ? 4 : 2));
    this.view = new DataView(this.buffer);
    this.filled = 0;
  }

  /** @param {Float32Array[][]} inputs */
  process(inputs) {
    const channel = inputs[0]?.[0];
    const length = channel ? channel.length : 128;
    if (this.skip > 0 || !channel) { // without input, a quantum's samples are missing
      this.skip -= length;
      this.send();
      this.count += length;
      return true;
    }
    for (const x of channel) this.add(x);
    return true;
  }

  /** @param {number} x */
  add(x) {
    if (this.filled === 0) this.view.setBigUint64(0, BigInt(this.count), true);
    const at = HEAD + this.filled * (this.wide ? 4 : 2);
    if (this.wide) this.view.setFloat32(at, x, true);
    else this.view.setInt16(at, Math.max(-32768, Math.min(32767, Math.round(x * 32768))), true);
    this.filled++;
    this.count++;
    if (this.filled === this.length) this.send();
  }

  send() {
    if (this.filled === 0) return;
    const bytes = HEAD + this.filled * (this.wide ? 4 : 2);
    const out = bytes === this.buffer.byteLength ? this.buffer : this.buffer.slice(0, bytes);
    this.port.postMessage({ frame: out, at: currentTime }, [out]);
    this.fresh();
  }
}

registerProcessor("gatherer", Gatherer);
