// Reads a list of WAV files (written by node/capture: 32-bit float or 16-bit
// PCM, mono) from standard input and prints, for each, the pitches of all
// windows as JSON. Arguments: window length, sample rate.
import { readFileSync } from "node:fs";
import { PitchDetector } from "pitchy";

const size = Number(process.argv[2]);
const rate = Number(process.argv[3]);
const detector = PitchDetector.forFloat32Array(size);

function samples(path) {
  const b = readFileSync(path);
  let at = 12;
  let format = 1;
  let bits = 16;
  while (at + 8 <= b.length) {
    const id = b.toString("latin1", at, at + 4);
    const length = b.readUInt32LE(at + 4);
    if (id === "fmt ") {
      format = b.readUInt16LE(at + 8);
      bits = b.readUInt16LE(at + 22);
    }
    if (id === "data") {
      const count = Math.floor(Math.min(length, b.length - at - 8) / (bits / 8));
      const x = new Float32Array(count);
      for (let i = 0; i < count; i++) {
        const p = at + 8 + (i * bits) / 8;
        if (bits === 64) x[i] = b.readDoubleLE(p);
        else if (bits === 32 && format !== 1) x[i] = b.readFloatLE(p);
        else if (bits === 32) x[i] = b.readInt32LE(p) / 2147483648;
        else if (bits === 24) x[i] = b.readIntLE(p, 3) / 8388608;
        else x[i] = b.readInt16LE(p) / 32768;
      }
      return x;
    }
    at += 8 + length + (length % 2);
  }
  return new Float32Array(0);
}

const answers = [];
for (const path of readFileSync(0, "utf8").split("\n").filter(Boolean)) {
  const x = samples(path);
  const hz = [];
  for (let at = 0; at + size <= x.length; at += 480) {
    const [f, clarity] = detector.findPitch(x.subarray(at, at + size), rate);
    if (clarity > 0.5 && f > 0) hz.push(f);
  }
  answers.push(hz);
}
process.stdout.write(JSON.stringify(answers));
