/* Hits and figures in words. */
import { now } from "./model.js";

const word = (name, hit) => now.hits[`${name}s`][now.hits[name][hit]];

const signed = (value, places = 1) => (value < 0 ? "−" : "+") + Math.abs(value).toFixed(places);

function deviationWords(value) {
  const size = Math.abs(value).toFixed(1);
  return size === "0.0" ? "on its line" : `${size} ms ${value < 0 ? "ahead" : "behind"}`;
}

/* What happened to a hit, in plain words. */
function story(hit) {
  const { hits, all } = now;
  const voice = all.voices[hits.voice[hit]]?.name ?? "";
  const zone = voice.startsWith(word("piece", hit)) ? voice : word("piece", hit);
  const moved = hits.after[hit] - hits.before[hit];
  const steps = Math.abs(moved) < 0.0005 ? "not moved" : `moved ${signed(moved)} ms`;
  const line = hits.lined[hit] ? "" : " (nearest line)";
  return (
    `Hit ${hit + 1}: ${zone}, velocity ${hits.velocity[hit]}, at ${hits.bar[hit]}:` +
    `${hits.beat[hit]}. Before: ${deviationWords(hits.deviation_before[hit])}${line}; after: ` +
    `${deviationWords(hits.deviation_after[hit])}; ${steps}. ` +
    `${word("role", hit)}, ${word("action", hit)}: ${word("reason", hit)}.`
  );
}

/* Characters that turn the text around them, or that can't be seen, are written out: a name from a
   file shows what it is made of. */
const ODD = /[\p{Cc}\u200b-\u200f\u202a-\u202e\u2060-\u2069\ufeff]/gu;

const shown = (text) =>
  text.replace(ODD, (char) => `⟨U+${char.codePointAt(0).toString(16).toUpperCase().padStart(4, "0")}⟩`);

export { deviationWords, shown, signed, story, word };
