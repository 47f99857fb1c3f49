// @ts-check
import { put, byID } from "./dom.js";
import { SectionView, followRow } from "./section.js";

const view = new SectionView({});
const wide = matchMedia("(min-width: 56.01rem)");

/** As few columns as keep the lines large enough to read from afar. @param {number} n chairs */
function columnsFor(n) {
  if (!wide.matches || n <= 14) return 1;
  return n <= 30 ? 2 : n <= 72 ? 3 : 4;
}

function layout() {
  const n = view.board?.chairs?.length ?? 0;
  const columns = columnsFor(n);
  put(document.body, "data-columns", columns);
  document.body.style.setProperty("--lines", String(Math.max(6, Math.ceil(n / columns))));
}

wide.addEventListener("change", layout);
followRow("?for=wall", (b) => {
  view.show(b);
  layout();
}, (up) => { byID("offline").hidden = up; });
