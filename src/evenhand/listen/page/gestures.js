/* The chart under the hand: pointing, choosing, zooming about the pointer, panning, and dragging a
   hit where the hand wants it. Two fingers zoom; one finger scrolls the page up and down. */
import * as Chart from "./chart.js";
import { marks } from "./marks.js";
import { now } from "./model.js";
import { signed } from "./words.js";

const STILL_PX = 5;
const FINE = 0.1;
const FLAG_PX = 22;

const hand = { pointers: new Map(), drag: null };

function under(event) {
  const box = Chart.over().getBoundingClientRect();
  return [event.clientX - box.left, event.clientY - box.top];
}

/* The flag at the upper edge that is pointed at, if there is one. */
function flagAt(left, top) {
  if (top > FLAG_PX) return null;
  return Chart.state.flags.find(({ ms }) => {
    const away = left - Chart.spot(ms, 0)[0];
    return away > -5 && away < 16;
  });
}

/* Dragging a hit: its ring follows, and says by how much; nothing is drawn anew until it is let go. */
function dragHit(event, [, top]) {
  const { drag } = hand;
  const [, up] = Chart.worth(0, top - drag.lastTop);
  drag.lastTop = top;
  drag.ms += up * (event.shiftKey ? FINE : 1);
  const rounded = Math.round(drag.ms * 10) / 10;
  const [left, y] = Chart.spot(marks.when[drag.index], marks.late[drag.index] + drag.ms);
  Chart.rings.chosen.style.transform = `translate(${left - 9}px, ${y - 9}px)`;
  drag.told.hidden = false;
  drag.told.style.transform = `translate(${left + 14}px, ${y - 12}px)`;
  drag.told.textContent = `${signed(rounded)} ms`;
}

function pan([left]) {
  const [ms] = Chart.worth(hand.drag.lastLeft - left, 0);
  hand.drag.lastLeft = left;
  const [min, max] = Chart.limits();
  Chart.show(min + ms, max + ms);
}

/* Two fingers: what was under each stays under it. */
function pinch() {
  const [one, other] = [...hand.pointers.values()];
  const apart = Math.max(20, Math.abs(one[0] - other[0]));
  if (hand.apart) Chart.zoom(hand.apart / apart, Chart.timeAt((one[0] + other[0]) / 2));
  hand.apart = apart;
}

function onMove(event) {
  const spot = under(event);
  const { drag } = hand;
  if (hand.pointers.has(event.pointerId)) hand.pointers.set(event.pointerId, spot);
  if (hand.pointers.size === 2) {
    pinch();
    return;
  }
  if (!drag) {
    const flag = flagAt(...spot);
    Chart.over().style.cursor = flag ? "pointer" : "";
    Chart.hover(flag ? -1 : Chart.nearest(...spot), ...spot);
    return;
  }
  if (!drag.moved) {
    const [dx, dy] = [spot[0] - drag.from[0], spot[1] - drag.from[1]];
    if (Math.hypot(dx, dy) < STILL_PX) return;
    drag.moved = true;
    drag.hit = drag.canNudge && Math.abs(dy) > Math.abs(dx) && event.pointerType !== "touch";
    if (drag.hit) Chart.choose(drag.index);
    Chart.hover(-1, 0, 0);
  }
  if (drag.hit) dragHit(event, spot);
  else pan(spot);
}

function onUp(event, calls) {
  hand.pointers.delete(event.pointerId);
  hand.apart = 0;
  const { drag } = hand;
  hand.drag = null;
  if (!drag) return;
  drag.told.hidden = true;
  const ms = Math.round(drag.ms * 10) / 10;
  if (!drag.moved) onClick(drag, calls);
  else if (drag.hit && ms) calls.nudge(Chart.hitOf(drag.index), ms);
}

function onClick({ from, index }, calls) {
  const flag = flagAt(...from);
  if (flag) calls.flag(flag.key);
  else if (index >= 0) calls.play(index);
}

function onDown(event, told, canNudge) {
  if (event.button) return;
  const spot = under(event);
  hand.pointers.set(event.pointerId, spot);
  Chart.over().setPointerCapture(event.pointerId);
  const index = Chart.nearest(...spot);
  const lined = index >= 0 && now.hits.lined[Chart.hitOf(index)];
  hand.drag =
    hand.pointers.size > 1
      ? null
      : {
          from: spot,
          lastLeft: spot[0],
          lastTop: spot[1],
          index,
          canNudge: lined && canNudge(),
          moved: false,
          ms: 0,
          told,
        };
}

function onWheel(event) {
  const sideways = Math.abs(event.deltaX) > Math.abs(event.deltaY);
  if (!event.ctrlKey && !event.metaKey && !sideways) return;
  event.preventDefault();
  const [left] = under(event);
  if (event.ctrlKey || event.metaKey) {
    Chart.zoom(Math.exp(Math.max(-50, Math.min(50, event.deltaY)) / 200), Chart.timeAt(left));
  } else Chart.shift(event.deltaX / Chart.over().clientWidth);
}

/* `calls`: {choose(index), play(index), flag(key), nudge(hit, ms), canNudge()}. */
function listen(place, calls) {
  const told = document.createElement("div");
  told.className = "moved-by";
  told.hidden = true;
  const over = Chart.over();
  over.append(told);
  over.addEventListener("pointermove", onMove);
  over.addEventListener("pointerleave", () => hand.drag || Chart.hover(-1, 0, 0));
  over.addEventListener("pointerdown", (event) => onDown(event, told, calls.canNudge));
  over.addEventListener("pointerup", (event) => onUp(event, calls));
  over.addEventListener("pointercancel", (event) => {
    hand.pointers.delete(event.pointerId);
    hand.drag = null;
    told.hidden = true;
  });
  over.addEventListener("wheel", onWheel, { passive: false });
  place.addEventListener("keydown", (event) => {
    const step = { ArrowLeft: -1, ArrowRight: 1, Home: -2, End: 2 }[event.key];
    if (step) {
      const index = Chart.neighbour(step);
      if (index >= 0) calls.choose(index);
    } else if (event.key === "ArrowUp") Chart.zoom(0.6);
    else if (event.key === "ArrowDown") Chart.zoom(1.6);
    else if (event.key === "Enter" && Chart.state.chosen >= 0) calls.play(Chart.state.chosen);
    else return;
    event.preventDefault();
  });
}

export { listen };
