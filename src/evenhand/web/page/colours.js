/* Colours of the style sheet, for what is drawn on a canvas. */
const colour = (name) =>
  getComputedStyle(document.documentElement).getPropertyValue(name).trim() || "#000";

/* Call back when the page turns dark or light, or goes to paper. */
function onRecolour(call) {
  for (const query of ["(prefers-color-scheme: dark)", "print"]) {
    matchMedia(query).addEventListener("change", call);
  }
}

export { colour, onRecolour };
