/* The list of places, each drawn and played before and after. */
import * as Clips from "./clips.js";
import { colour, onRecolour } from "../web/colours.js";
import { all } from "../web/data.js";
import { button, make, one, row } from "../web/dom.js";

const drawn = [];

/* Half of a picture: the outline of a sound around a middle line. */
function outline(paint, values, width, middle, height) {
  for (let x = 0; x < width; x += 1) {
    const from = Math.floor((x * values.length) / width);
    const to = Math.max(from + 1, Math.floor(((x + 1) * values.length) / width));
    let low = 0;
    let high = 0;
    for (let index = from; index < to; index += 1) {
      low = Math.min(low, values[index]);
      high = Math.max(high, values[index]);
    }
    paint.fillRect(x, middle - high * height, 1, Math.max(1, (high - low) * height));
  }
}

function draw({ canvas, place, before, after }) {
  const scale = globalThis.devicePixelRatio || 1;
  const width = Math.max(1, Math.round(canvas.clientWidth * scale));
  const height = Math.max(1, Math.round(canvas.clientHeight * scale));
  canvas.width = width;
  canvas.height = height;
  const paint = canvas.getContext("2d");
  const seconds = after.length / all.rate;
  const fade = Math.max(place.fade_s, 0.004);
  paint.fillStyle = colour("--window");
  paint.fillRect(((all.middle_s - fade / 2) / seconds) * width, 0, (fade / seconds) * width, height);
  paint.fillStyle = colour("--before");
  outline(paint, before, width, height / 4, height / 4);
  paint.fillStyle = colour("--after");
  outline(paint, after, width, (height * 3) / 4, height / 4);
}

function add(place, index) {
  const before = Clips.numbers(place.before);
  const after = Clips.numbers(place.after);
  const item = make("li", "", { id: `place-${index}` });
  const line = make("div", "", { class: "row" });
  const said = make("span", "", { role: "status" });
  const player = (name, values) =>
    button(`Play ${name}`, `Play ${place.kind} at ${place.place} ${name}`, () => {
      said.textContent = name;
      Clips.play(values, Number(one("speed").value), () => {
        said.textContent = "";
      });
    });
  line.append(
    make("strong", `${place.place} ${place.kind}`),
    player("before", before),
    player("after", after),
    said,
  );
  const canvas = make("canvas", "", {
    role: "img",
    "aria-label": `The sound around ${place.place}, before above and after below`,
  });
  item.append(line, make("span", place.text), canvas);
  one("places").append(item);
  drawn.push({ canvas, place, before, after });
}

function loudness() {
  const value = Number(one("loudness").value);
  one("loudness-now").textContent = `${value} dB`;
  Clips.setLoudness(value);
}

function start() {
  all.places.forEach(add);
  if (!all.places.length) {
    one("places").replaceWith(make("p", "Nothing was cut, so there is nothing to listen to."));
  }
  one("more").hidden = !all.more;
  one("more").textContent = `And ${all.more} more in edits.csv and in the report.`;
  for (const [piece, ms, found, hits] of all.pieces) {
    row(one("pieces").tBodies[0], [piece, `${hits}`, `${found}`, ms === null ? "-" : `${ms}`]);
  }
  one("loudness").addEventListener("input", loudness);
  one("stop").addEventListener("click", Clips.stop);
  loudness();
  const redraw = () => drawn.forEach(draw);
  redraw();
  onRecolour(redraw);
  globalThis.addEventListener("resize", redraw);
}

start();
