// @ts-check
import { byID } from "./dom.js";
import { follow } from "./feed.js";
import { SectionView } from "./section.js";

const view = new SectionView({});

follow("/ws/row?for=wall", (b) => {
  view.show(b);
  document.body.style.setProperty("--chairs", String(Math.max(b.chairs.length, 6)));
}, (up) => { byID("offline").hidden = up; });
