"""What a live page really plays: every hit that was heard, and changes made meanwhile."""

#: Collect each hit that begins to sound, by the audio clock; a hit that is taken back never does.
LISTEN = """
const player = Main.player();
const seen = new WeakSet();
window.heard = [];
window.ear = setInterval(() => {
  if (!player.desk) return;
  const time = player.desk.context.currentTime;
  for (const item of player.live) {
    if (item.hit < 0 || item.at > time || seen.has(item)) continue;
    seen.add(item);
    window.heard.push(item.hit);
  }
}, 20);
"""

#: Turn the strength again and again, each turn as soon as the one before is heard; gives how long
#: each took, ms.
TURN = """
const [times, done] = arguments;
const line = Main.line();
const took = [];
let left = times;
const turn = () => {
  const start = performance.now();
  const call = line.calls.changed;
  line.calls.changed = (data) => {
    call(data);
    line.calls.changed = call;
    // The chart is drawn in the browser's next moment; the sound is scheduled already.
    queueMicrotask(() => {
      took.push(performance.now() - start);
      left -= 1;
      if (left) setTimeout(turn, 0);
      else done(took);
    });
  };
  line.ask({op: "set", name: "strength", value: left % 2 ? 100 : 0, gesture: "test"});
};
turn();
"""

#: The hits that had to sound between the first and the last that did, and how often each did.
COUNT = """
const [margin] = arguments;
clearInterval(window.ear);
const player = Main.player();
const [from, to] = [player.first + margin, player.position() - margin];
const count = new Map();
for (const hit of window.heard) count.set(hit, (count.get(hit) ?? 0) + 1);
const due = [];
Data.hits.before.forEach((ms, hit) => { if (ms > from && ms < to) due.push(hit); });
return {
  due: due.length,
  lost: due.filter((hit) => !count.has(hit)),
  doubled: due.filter((hit) => count.get(hit) > 1),
};
"""
