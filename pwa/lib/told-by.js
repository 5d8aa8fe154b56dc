/** A short buzz or tone when something is saved or refused, for who wants it: the eyes are on the unit. */

const BUZZ = { saved: [40], refused: [90, 60, 90] }; // ms
const TONE = { saved: [880], refused: [300, 300] }; // Hz, one after the other
const LONG_S = 0.12;

/**
 * @param {"eye" | "buzz" | "tone"} how
 * @param {"saved" | "refused"} what
 */
export function tell(how, what) {
  if (how === "buzz") navigator.vibrate?.(BUZZ[what]);
  if (how === "tone") sound(TONE[what]);
}

/** @type {AudioContext | null} */
let audio = null;

/** @param {number[]} pitches */
function sound(pitches) {
  audio ??= new AudioContext();
  const { currentTime, destination } = audio;
  pitches.forEach((pitch, place) => {
    const tone = new OscillatorNode(/** @type {AudioContext} */ (audio), { frequency: pitch });
    tone.connect(destination);
    tone.start(currentTime + place * 1.5 * LONG_S);
    tone.stop(currentTime + place * 1.5 * LONG_S + LONG_S);
  });
}
