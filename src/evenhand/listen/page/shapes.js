/* Colour and shape of each family of pieces; the shape also tells them apart in print. */
import { now } from "./model.js";

const FAMILIES = [
  { name: "kick", colour: "--kick", shape: "square", has: (piece) => piece === "kick" },
  { name: "snare", colour: "--snare", shape: "round", has: (piece) => piece === "snare" },
  { name: "side stick", colour: "--stick", shape: "diamond", has: (one) => one === "side stick" },
  { name: "hat", colour: "--hat", shape: "cross", open: true, has: (piece) => piece === "hat" },
  {
    name: "cymbals",
    colour: "--cymbal",
    shape: "up",
    has: (piece) => ["ride", "crash", "splash", "china"].includes(piece),
  },
  { name: "toms", colour: "--tom", shape: "down", has: (piece) => piece.startsWith("tom ") },
  { name: "other pieces", colour: "--other", shape: "plus", open: true, has: () => true },
];

const familyOfPieces = () =>
  now.hits.pieces.map((piece) => FAMILIES.findIndex((family) => family.has(piece)));

const SHAPES = {
  square: (path, x, y, r) => path.rect(x - r * 0.9, y - r * 0.9, r * 1.8, r * 1.8),
  round: (path, x, y, r) => {
    path.moveTo(x + r, y);
    path.arc(x, y, r, 0, 2 * Math.PI);
  },
  diamond: (path, x, y, r) => polygon(path, x, y, r * 1.2, [[0, -1], [1, 0], [0, 1], [-1, 0]]),
  up: (path, x, y, r) => polygon(path, x, y, r, [[0, -1.1], [1, 0.8], [-1, 0.8]]),
  down: (path, x, y, r) => polygon(path, x, y, r, [[0, 1.1], [1, -0.8], [-1, -0.8]]),
  cross: (path, x, y, r) => strokes(path, x, y, r * 0.8, [[-1, -1, 1, 1], [-1, 1, 1, -1]]),
  plus: (path, x, y, r) => strokes(path, x, y, r, [[-1, 0, 1, 0], [0, -1, 0, 1]]),
};

function polygon(path, x, y, r, corners) {
  corners.forEach(([dx, dy], index) =>
    index ? path.lineTo(x + dx * r, y + dy * r) : path.moveTo(x + dx * r, y + dy * r),
  );
  path.closePath();
}

function strokes(path, x, y, r, lines) {
  for (const [ax, ay, bx, by] of lines) {
    path.moveTo(x + ax * r, y + ay * r);
    path.lineTo(x + bx * r, y + by * r);
  }
}

export { FAMILIES, SHAPES, familyOfPieces, polygon };
