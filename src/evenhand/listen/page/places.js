/* The places to listen to: the flags, with what was said of them. One that a decision made go away
   stays in the list, ticked. */
import { marks } from "./decisions.js";
import { now } from "./model.js";

const VERDICTS = {
  right: "sounds right",
  left: "left as played",
  nudged: "nudged",
  waits: "waits for the song",
};

function places() {
  const said = new Map(marks().map((mark) => [mark.key, mark]));
  const items = now.all.flags.map(({ key, kind, place, text, ms, hits }) => ({
    key,
    kind,
    place,
    text,
    ms,
    hit: hits[0],
    as: said.get(key)?.as ?? null,
  }));
  const there = new Set(items.map(({ key }) => key));
  for (const mark of marks()) if (!there.has(mark.key)) items.push({ ...mark });
  return items;
}

/* What has been heard and decided; what waits for the song counts as heard, but stays open. */
const isDone = (item) => item.as !== null && item.as !== "waits";

export { VERDICTS, isDone, places };
