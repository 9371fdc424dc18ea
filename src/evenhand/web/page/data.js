/* The data that stand in the page, read once. */
const all = JSON.parse(document.getElementById("data").textContent);

export { all };
