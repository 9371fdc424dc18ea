/* Colours of the style sheet, for what is drawn on a canvas. To ask the style sheet takes as long as
   to draw hundreds of marks, so what it said is remembered. */
const known = new Map();

function colour(name) {
  if (!known.has(name)) {
    const style = getComputedStyle(document.documentElement);
    known.set(name, style.getPropertyValue(name).trim() || "#000");
  }
  return known.get(name);
}

/* Call back when the page turns dark or light, or goes to paper. */
function onRecolour(call) {
  for (const query of ["(prefers-color-scheme: dark)", "print"]) {
    matchMedia(query).addEventListener("change", call);
  }
}

onRecolour(() => known.clear());

export { colour, onRecolour };
