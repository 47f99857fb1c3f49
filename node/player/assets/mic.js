// @ts-check
/* The microphone in the browser. It asks for the plain sound and sends it to
   the node over a socket. It shows in words how it goes, and never a pitch. */
import { el, say, put } from "./dom.js";
import { GraphPickup } from "./micgraph.js";
import { TrackPickup } from "./mictrack.js";
import { phrase as t } from "./words.js";

/* A page by https is served by the leader's laptop to a telephone: its sound
   crosses the network, in fewer bits, and that is said. */
const REMOTE = location.protocol === "https:";

/** What each state offers to press, and which ones are read aloud at once. The text is that of its name. @type {Record<string, {button?: string, alert?: boolean}>} */
const STATES = {
  idle: { button: "player.browser.use" },
  asking: {},
  starting: {},
  live: {},
  muted: { alert: true },
  paused: { button: "player.browser.go-on", alert: true },
  refused: { button: "player.browser.again", alert: true },
  none: { button: "player.browser.again", alert: true },
  busy: { button: "player.browser.again", alert: true },
  lost: { button: "player.browser.again", alert: true },
  taken: { button: "player.browser.this-tab" },
  cut: { alert: true },
  insecure: { alert: true },
  old: { alert: true },
};

/** Samples in a frame, whole render quanta and within 10 ms: an answer waits for
    half of one. A hub with many telephones takes fewer, longer ones. */
const FRAME = REMOTE ? 1024 : 384;

const CLOSE_TAKEN = 4010;
const RETRY = 1500; // ms between tries of a microphone that is gone or taken
const RETRY_CUT = 500; // ms between tries of a node that does not answer: browsers cut the sockets of pages that slept
const MAX_BUFFERED = 1 << 20; // bytes; beyond it frames are dropped, and counted by their numbers
const STALE_SECONDS = 1;

/** The plain sound, without what is made for speech. */
const PLAIN = { echoCancellation: false, noiseSuppression: false, autoGainControl: false, voiceIsolation: false };

class Microphone {
  /**
   * Puts words and a button into mount.
   * @param {HTMLElement} mount
   */
  constructor(mount) {
    this.format = REMOTE ? "s16" : "f32";
    this.state = "idle";
    this.text = el("p", { class: "mic-words", role: "status" });
    this.warning = el("p", { class: "notice", hidden: true });
    this.button = el("button", { type: "button", class: "main", onclick: () => this.press() });
    mount.replaceChildren(this.text, this.warning, this.button);
    this.mount = mount;
    /** @type {MediaStream|null} */ this.stream = null;
    /** @type {TrackPickup|GraphPickup|null} */ this.pickup = null;
    this.rate = 0; // Hz
    this.name = ""; // of the device, where the track does not tell it
    /** @type {WebSocket|null} */ this.socket = null;
    this.take = false;
    this.retry = 0;
    this.opening = false;
    this.show("idle");
    document.addEventListener("words", () => {
      this.show(this.state);
      if (this.stream) this.warn(this.stream.getAudioTracks()[0].getSettings());
    });
  }

  /** @param {string} state */
  show(state) {
    this.state = state;
    const w = STATES[state];
    say(this.text, t("player.browser." + (state !== "idle" ? state : REMOTE ? "there" : "here"), this.label()));
    put(this.text, "role", w.alert ? "alert" : "status");
    this.button.hidden = !w.button;
    say(this.button, w.button ? t(w.button) : "");
    put(this.mount, "data-mic", state);
  }

  label() { return this.name || this.stream?.getAudioTracks()[0]?.label || t("player.browser.default"); }

  /** Finds the device's own name where the browser calls it "Default". @param {MediaStreamTrack} track */
  async findName(track) {
    this.name = "";
    if (track.getSettings().deviceId !== "default") return;
    const all = await navigator.mediaDevices.enumerateDevices().catch(() => []);
    const inputs = all.filter((d) => d.kind === "audioinput" && d.deviceId !== "default" && d.deviceId !== "communications" && d.label);
    const own = inputs.filter((d) => d.groupId === track.getSettings().groupId);
    const found = own.length > 0 ? own : inputs;
    if (found.length === 1) this.name = found[0].label;
  }

  async begin() {
    if (!navigator.mediaDevices?.getUserMedia) return this.show("insecure");
    if (!window.AudioWorkletNode) return this.show("old"); // older than what else is needed
    navigator.mediaDevices.addEventListener("devicechange", () => {
      if (this.state === "none" || this.state === "lost") this.open();
    });
    document.addEventListener("visibilitychange", () => this.wake());
    const asked = await navigator.permissions?.query({ name: /** @type {any} */ ("microphone") }).catch(() => null);
    if (!asked) return;
    if (asked.state === "granted") this.open();
    asked.onchange = () => { if (asked.state === "granted" && this.state === "refused") this.open(); };
  }

  press() {
    if (this.state === "taken") {
      this.take = true;
      this.connect();
    } else if (this.state === "paused") this.wake();
    else this.open();
  }

  /** Opens the microphone and connects it. */
  async open() {
    if (this.opening) return;
    this.opening = true;
    this.release();
    this.show("asking");
    try {
      this.stream = await navigator.mediaDevices.getUserMedia({ audio: { channelCount: 1, ...PLAIN }, video: false });
    } catch (e) {
      this.show(reason(/** @type {DOMException} */ (e)));
      return;
    } finally {
      this.opening = false;
    }
    this.show("starting");
    const track = this.stream.getAudioTracks()[0];
    track.onended = () => this.gone();
    track.onmute = () => this.show("muted");
    track.onunmute = () => this.show("live");
    this.warn(track.getSettings());
    const pickup = this.pickup = this.pick(this.stream);
    await this.findName(track);
    if (pickup !== this.pickup) return; // closed meanwhile
    const rate = await pickup.begin();
    if (pickup !== this.pickup || !rate) return; // closed meanwhile
    this.rate = rate;
    this.keepAwake();
    this.connect();
  }

  /** Picks up the sound in the best way this browser has. @param {MediaStream} stream */
  pick(stream) {
    const options = {
      format: this.format, frame: FRAME,
      onframe: (/** @type {ArrayBuffer} */ frame, /** @type {number} */ age) => this.send(frame, age),
      onend: () => this.gone(),
      onstate: () => {
        if (this.pickup?.running && this.state === "paused") this.show("live");
        else if (!this.pickup?.running && this.state === "live") this.show("paused");
      },
    };
    return TrackPickup.of(stream.getAudioTracks()[0], options) ?? new GraphPickup(stream, options);
  }

  /** Warns when the browser processes the sound all the same. @param {MediaTrackSettings} s */
  warn(s) {
    this.settings = { echo: !!s.echoCancellation, noise: !!s.noiseSuppression || !!(/** @type {any} */ (s).voiceIsolation), gain: !!s.autoGainControl };
    const on = [this.settings.echo && "player.browser.echo", this.settings.noise && "player.browser.noise", this.settings.gain && "player.browser.gain"].filter(Boolean);
    this.warning.hidden = on.length === 0;
    say(this.warning, on.length ? t("player.browser.processing", on.map((key) => t(key)).join(", ")) : "");
  }

  connect() {
    clearTimeout(this.retry);
    if (!this.rate || this.socket) return;
    const url = new URL("mic", location.href);
    url.protocol = url.protocol.replace("http", "ws");
    const socket = new WebSocket(url);
    this.socket = socket;
    socket.onopen = () => {
      socket.send(JSON.stringify({ v: 1, rate: this.rate, device: this.label().slice(0, 50), format: this.format, take: this.take, ...this.settings }));
      this.take = false;
    };
    socket.onmessage = () => this.show(this.pickup?.running ? "live" : "paused"); // the node is ready
    socket.onclose = (e) => {
      if (socket !== this.socket) return;
      this.socket = null;
      if (!this.pickup) return;
      const taken = e.code === CLOSE_TAKEN;
      this.show(taken ? "taken" : "cut");
      this.retry = setTimeout(() => this.connect(), taken ? RETRY : RETRY_CUT);
    };
  }

  /**
   * A page that slept is handed all the sound of that time when it wakes; what
   * is stale is dropped, and the frames' numbers tell the node.
   * @param {ArrayBuffer} frame @param {number} age seconds
   */
  send(frame, age) {
    const s = this.socket;
    if (age > STALE_SECONDS) return;
    if (s && s.readyState === WebSocket.OPEN && s.bufferedAmount < MAX_BUFFERED) s.send(frame);
  }

  /** The device went away: say so to both sides. */
  gone() {
    if (this.socket?.readyState === WebSocket.OPEN) this.socket.send(JSON.stringify("lost"));
    this.release();
    this.show("lost");
    // It may have been only one of several: the next default is asked for.
    setTimeout(() => { if (this.state === "lost") this.open(); }, RETRY);
  }

  release() {
    clearTimeout(this.retry);
    const { socket, pickup, stream } = this;
    this.socket = this.pickup = this.stream = null;
    this.rate = 0;
    socket?.close(1000);
    pickup?.close();
    for (const track of stream?.getTracks() ?? []) {
      track.onended = track.onmute = track.onunmute = null;
      track.stop();
    }
  }

  /** Comes back from the background. */
  async wake() {
    if (document.visibilityState !== "visible" || !this.pickup) return;
    await this.pickup.wake();
    this.keepAwake();
  }

  /** Keeps a phone's screen on: with it off, phones stop the sound. */
  async keepAwake() {
    await /** @type {any} */ (navigator).wakeLock?.request("screen").catch(() => {});
  }
}

/** The state that an error of getUserMedia means. @param {DOMException} e */
function reason(e) {
  switch (e.name) {
    case "NotAllowedError": case "SecurityError": return "refused";
    case "NotFoundError": case "OverconstrainedError": return "none";
    default: return "busy";
  }
}

const place = document.getElementById("mic");
if (place) new Microphone(place).begin();
