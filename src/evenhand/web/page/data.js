/* The data that stand in the page, read once; null where a server tells them. */
const found = document.getElementById("data");

const all = found && JSON.parse(found.textContent);

export { all };
