// @ts-check
/**
 * Keeps the screen awake while this page is seen, where the browser offers it
 * (W3C Screen Wake Lock; only on pages of this machine or over TLS). A lock is
 * lost when the page is hidden, and asked for again when it is back.
 */
export function keepAwake() {
  const ask = () => {
    if (document.visibilityState === "visible") navigator.wakeLock?.request("screen").catch(() => { /* low battery: the screen may sleep */ });
  };
  document.addEventListener("visibilitychange", ask);
  ask();
}
