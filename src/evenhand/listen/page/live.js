/* The line to the server of a live page: changes go out one at a time, the newest wish first; what
   changed comes back. */
const AGAIN_MS = 1000;

/* A change that only the newest of its kind matters of, while an older one is under way. */
const sameDial = (one, other) =>
  one && one.op === "set" && other.op === "set" && one.gesture && one.gesture === other.gesture;

class Line {
  /* `calls`: {all(data), changed(data), refused(text), exists(text), kept(text), lost(), back()}. */
  constructor(calls) {
    this.calls = calls;
    this.number = 0;
    this.asked = null;
    this.waiting = [];
    this.gone = false;
    this.open();
  }

  open() {
    this.socket = new WebSocket(`ws://${location.host}/talk`);
    this.socket.addEventListener("message", (event) => this.hear(JSON.parse(event.data)));
    this.socket.addEventListener("close", () => {
      if (this.gone) return;
      this.calls.lost();
      this.asked = null;
      this.waiting = [];
      setTimeout(() => this.open(), AGAIN_MS);
    });
  }

  ask(change) {
    const last = this.waiting.at(-1);
    if (sameDial(last, change)) this.waiting.pop();
    this.waiting.push(change);
    this.send();
  }

  send() {
    if (this.asked !== null || !this.waiting.length || this.socket.readyState !== 1) return;
    this.number += 1;
    this.asked = this.number;
    this.since = performance.now();
    this.socket.send(JSON.stringify({ id: this.number, ...this.waiting.shift() }));
  }

  hear(message) {
    const { kind, answers, data, text } = message;
    if (kind === "all") this.calls.all(data);
    else if (kind === "changed") this.calls.changed(data);
    else this.calls[kind](text);
    if (kind === "changed" ? answers.includes(this.asked) : answers === this.asked) {
      this.asked = null;
      this.took = performance.now() - this.since;
      this.send();
    }
  }

  bye() {
    this.gone = true;
    if (this.socket.readyState === 1) {
      this.socket.send(JSON.stringify({ id: 0, op: "bye" }));
      this.socket.close();
    }
  }
}

export { Line };
