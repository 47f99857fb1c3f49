// @ts-check
/**
 * Keeps a WebSocket open and hands on each message. Messages are whole states,
 * so that nothing has to be made good after a break. The other side says every
 * second that it is there; when it does not, it hangs, and the page is told so
 * though the socket is still open.
 * @param {string} path
 * @param {(data: any) => void} onData
 * @param {(connected: boolean, ended: boolean) => void} onLink ended: the program said that it ends
 */
export function follow(path, onData, onLink) {
  const url = new URL(path, location.href);
  url.protocol = url.protocol.replace("http", "ws");
  const first = 500, most = 3000; // ms; short for a restart, long enough not to storm
  const silence = 3500; // ms; three beats and a little
  const goingAway = 1001; // RFC 6455, 7.4.1
  let wait = first, ended = false;
  function open() {
    const socket = new WebSocket(url);
    let late = 0;
    const lost = () => {
      clearTimeout(late);
      socket.onopen = socket.onmessage = socket.onclose = null;
      socket.close();
      onLink(false, ended);
      setTimeout(open, wait * (0.5 + Math.random()));
      wait = Math.min(2 * wait, most);
    };
    const alive = () => {
      clearTimeout(late);
      late = setTimeout(lost, silence);
    };
    alive();
    socket.onopen = () => { wait = first; ended = false; alive(); onLink(true, false); };
    socket.onmessage = (e) => {
      alive();
      const data = JSON.parse(e.data);
      if (data !== null) onData(data);
    };
    socket.onclose = (e) => {
      ended ||= e.code === goingAway; // until it answers again
      lost();
    };
  }
  open();
}
