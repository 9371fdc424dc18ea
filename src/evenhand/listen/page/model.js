/* What the page knows: the data with what follows from them. A live page is told anew what changed;
   whoever shows something of it says so with `onChange`. */
const now = { all: null, hits: null, count: 0, order: {}, until: {} };
const calls = [];

const SIDES = ["before", "slot", "after"];

const onChange = (call) => calls.push(call);

/* Indices of the hits in the order in which they sound. What was in order before a change is nearly
   in order after it: then sorting by insertion is quickest. */
function inOrder(ms, last) {
  if (!last || last.length !== ms.length) {
    return Int32Array.from(ms.keys()).sort((one, other) => ms[one] - ms[other] || one - other);
  }
  for (let index = 1; index < last.length; index += 1) {
    const hit = last[index];
    let place = index - 1;
    while (place >= 0 && (ms[last[place]] - ms[hit] || last[place] - hit) > 0) {
      last[place + 1] = last[place];
      place -= 1;
    }
    last[place + 1] = hit;
  }
  return last;
}

/* When the next hit on the same pair of cymbals ends each hit, ms; Infinity where none does. */
function chokedAt(side) {
  const until = new Float64Array(now.count).fill(Infinity);
  const choked = new Set(now.all.choked);
  let last = -1;
  for (const hit of now.order[side]) {
    if (!choked.has(now.hits.voice[hit])) continue;
    if (last >= 0) until[last] = now.hits[side][hit];
    last = hit;
  }
  return until;
}

function derive(sides) {
  for (const side of sides) {
    if (!now.hits[side]) {
      delete now.order[side];
      continue;
    }
    now.order[side] = inOrder(now.hits[side], now.order[side]);
    now.until[side] = chokedAt(side);
  }
}

function load(all) {
  now.all = all;
  now.hits = all.hits;
  now.count = all.hits ? all.hits.before.length : 0;
  now.order = {};
  if (!now.hits) return;
  now.hits.slot = all.slot ?? null;
  derive(SIDES);
}

/* Take in what changed; of the hits, columns. `around` makes the change while the sound goes on. */
function update(changed, around = (apply) => apply()) {
  const { hits, ...rest } = changed;
  const columns = { ...hits, ...("slot" in changed ? { slot: changed.slot } : {}) };
  around(() => {
    Object.assign(now.all, rest);
    Object.assign(now.hits, columns);
    derive(SIDES.filter((side) => side in columns || "choked" in rest));
  });
  // A column of the hits goes by a name of its own: `hits.after`.
  const names = new Set([...Object.keys(rest), ...(hits ? ["hits"] : [])]);
  for (const name of Object.keys(columns)) names.add(`hits.${name}`);
  for (const call of calls) call(names);
}

/* Index of the first of some sorted things whose value is not below `value`. */
function lowest(length, valueAt, value) {
  let low = 0;
  let high = length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (valueAt(middle) < value) low = middle + 1;
    else high = middle;
  }
  return low;
}

export { load, lowest, now, onChange, update };
