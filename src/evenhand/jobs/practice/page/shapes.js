/* Marks: each tempo has a shape of its own, so that it can be told without its colour. */
import { colour } from "../web/colours.js";

const COLOURS = ["--kick", "--snare", "--hat", "--stick", "--cymbal", "--tom", "--other"];
const CORNERS = [
  [[-0.9, -0.9], [0.9, -0.9], [0.9, 0.9], [-0.9, 0.9]],
  null,
  [[0, -1.1], [1, 0.8], [-1, 0.8]],
  [[0, -1.2], [1.2, 0], [0, 1.2], [-1.2, 0]],
  [[0, 1.1], [1, -0.8], [-1, -0.8]],
  [[-0.4, -1.1], [0.4, -1.1], [0.4, 1.1], [-0.4, 1.1]],
  [[-1.1, -0.4], [1.1, -0.4], [1.1, 0.4], [-1.1, 0.4]],
];

const colourOf = (group) => colour(COLOURS[group % COLOURS.length]);

function draw(ctx, group, x, y, r) {
  const corners = CORNERS[group % CORNERS.length];
  ctx.beginPath();
  if (!corners) ctx.arc(x, y, r, 0, 2 * Math.PI);
  else {
    corners.forEach(([dx, dy], index) =>
      index ? ctx.lineTo(x + dx * r, y + dy * r) : ctx.moveTo(x + dx * r, y + dy * r),
    );
  }
  ctx.closePath();
  // Where the shapes have been through once, they come again as outlines.
  if (Math.floor(group / CORNERS.length) % 2) {
    ctx.strokeStyle = ctx.fillStyle;
    ctx.lineWidth = r / 3;
    ctx.stroke();
  } else ctx.fill();
}

export { colourOf, draw };
