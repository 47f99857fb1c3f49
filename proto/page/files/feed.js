// @ts-check
/**
 * Keeps a WebSocket open and hands on each message. Messages are whole states,
 * so that nothing has to be made good after a break.
 * @param {string} path
 * @param {(data: any) => void} onData
 * @param {(connected: boolean) => void} onLink
 * @returns {{send: (data: any) => void}}
 */
export function follow(path, onData, onLink) {
  const url = new URL(path, location.href);
  url.protocol = url.protocol.replace("http", "ws");
  const first = 500, most = 8000; // ms; short for a restart, long enough not to storm
  let wait = first;
  /** @type {WebSocket|null} */
  let socket = null;
  function open() {
    socket = new WebSocket(url);
    socket.onopen = () => { wait = first; onLink(true); };
    socket.onmessage = (e) => onData(JSON.parse(e.data));
    socket.onclose = () => {
      onLink(false);
      setTimeout(open, wait * (0.5 + Math.random()));
      wait = Math.min(2 * wait, most);
    };
  }
  open();
  return { send: (data) => { if (socket && socket.readyState === WebSocket.OPEN) socket.send(JSON.stringify(data)); } };
}
