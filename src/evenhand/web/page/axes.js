/* What the axes of all charts have in common. */
import { colour } from "./colours.js";

const FONT = "12px system-ui, sans-serif";

const axis = (more) => ({
  stroke: () => colour("--quiet"),
  grid: { stroke: () => colour("--grid"), width: 1 },
  ticks: { stroke: () => colour("--grid"), width: 1 },
  font: FONT,
  labelFont: FONT,
  labelSize: 20,
  ...more,
});

export { axis };
