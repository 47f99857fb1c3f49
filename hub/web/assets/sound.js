// @ts-check
import { phrase } from "./words.js";
/**
 * Sounds a note from the leader's laptop for the ear to take: soft to begin,
 * with enough partials to be matched easily, and no vibrato. It never sounds
 * while somebody is listened to, and what is called after it waits until the
 * room is silent again.
 */

const LONGEST = 4, ATTACK = 0.12, RELEASE = 0.25, SILENCE = 3; // s
/** Of the first eight partials: those of a mellow horn, from memory. */
const PARTIALS = [1, 0.7, 0.45, 0.25, 0.12, 0.07, 0.04, 0.02];

/** @type {AudioContext|null} */
let audio = null;
/** @type {{gain: GainNode, tone: OscillatorNode, timer: number}|null} */
let sounding = null;
let silentAt = 0;

/**
 * Begins to sound a note and goes on for 4 s at most.
 * @param {number} hz
 * @throws {Error} in words, when there is no sound to be had
 */
export async function soundNote(hz) {
  hush();
  audio ??= window.AudioContext ? new AudioContext() : null;
  if (!audio) throw new Error(phrase("row.sound.none"));
  await Promise.race([audio.resume(), new Promise((done) => setTimeout(done, 600))]);
  if (audio.state !== "running") throw new Error(phrase("row.sound.not-yet"));
  const gain = audio.createGain(), tone = audio.createOscillator(), now = audio.currentTime;
  tone.setPeriodicWave(audio.createPeriodicWave(new Float32Array(PARTIALS.length + 1), new Float32Array([0, ...PARTIALS])));
  tone.frequency.value = hz;
  gain.gain.setValueAtTime(0, now);
  gain.gain.linearRampToValueAtTime(0.3, now + ATTACK);
  tone.connect(gain).connect(audio.destination);
  tone.start();
  sounding = { gain, tone, timer: setTimeout(hush, 1000 * LONGEST) };
  silentAt = performance.now() + 1000 * (LONGEST + RELEASE + SILENCE);
}

/** Ends the note, softly. */
export function hush() {
  if (!sounding || !audio) return;
  clearTimeout(sounding.timer);
  const now = audio.currentTime;
  sounding.gain.gain.setTargetAtTime(0, now, RELEASE / 4);
  sounding.tone.stop(now + RELEASE);
  sounding = null;
  silentAt = performance.now() + 1000 * (RELEASE + SILENCE);
}

/** Whether a note sounds now. */
export const isSounding = () => sounding !== null;

/** Ends the note and waits until the room has been silent for three seconds. */
export async function silence() {
  hush();
  const wait = silentAt - performance.now();
  if (wait > 0) await new Promise((done) => setTimeout(done, wait));
}
