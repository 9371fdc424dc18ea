/* Clips: sounds before and after a place, played one at a time. */
import { all } from "../web/data.js";

const factor = (db) => 10 ** (db / 20);
let context = null;
let master = null;
let playing = null;
let loudness = -18;

/* 16-bit numbers in base64, as values from -1 to 1. */
function numbers(pcm) {
  const bytes = Uint8Array.from(atob(pcm), (char) => char.charCodeAt(0));
  const view = new DataView(bytes.buffer);
  const values = new Float32Array(bytes.length / 2);
  for (let index = 0; index < values.length; index += 1) {
    values[index] = view.getInt16(2 * index, true) / 32767;
  }
  return values;
}

function open() {
  if (context) return;
  context = new AudioContext();
  master = context.createGain();
  master.gain.value = factor(loudness);
  master.connect(context.destination);
}

function setLoudness(db) {
  loudness = db;
  if (master) master.gain.setTargetAtTime(factor(db), context.currentTime, 0.01);
}

function stop() {
  if (playing) playing.stop();
  playing = null;
}

async function play(values, speed, ended) {
  open();
  await context.resume();
  stop();
  const sound = context.createBuffer(1, values.length, all.rate);
  sound.copyToChannel(values, 0);
  const source = context.createBufferSource();
  source.buffer = sound;
  source.playbackRate.value = speed;
  source.connect(master);
  source.addEventListener("ended", ended);
  source.start();
  playing = source;
}

export { numbers, play, setLoudness, stop };
