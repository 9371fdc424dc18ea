/* The charts' library; it runs before all modules and leaves its name behind. */
const { uPlot } = globalThis;

export { uPlot };
