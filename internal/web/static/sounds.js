// Sounds are made by the page, off at first, and say nothing that is not seen. Rising means go on, falling
// means look. The three findings sound alike: a customer at the counter should not hear the verdict.
const tones = { // pairs of hertz and milliseconds
  still: [[440, 60]],
  taken: [[440, 80], [660, 80]],
  answer: [[660, 120]],
  doubt: [[440, 120], [330, 120], [440, 120], [330, 120]],
  stop: [[220, 600]],
  scan: [[880, 40]],
  unknown: [[330, 120]],
};

export const sounding = () => localStorage.getItem("wreath-sounds") === "on";

let speaker = null, free = 0;

// signal says that something happened: to whoever listens on the page, and aloud where sounds are on.
export function signal(name) {
  document.dispatchEvent(new CustomEvent("wreath-happened", { detail: name }));
  if (!sounding() || !tones[name]) return;
  try {
    speaker ??= new AudioContext();
    if (speaker.state === "suspended") speaker.resume();
    free = Math.max(free, speaker.currentTime); // one after the other
    for (const [hertz, ms] of tones[name]) {
      const tone = speaker.createOscillator(), level = speaker.createGain();
      tone.frequency.value = hertz;
      level.gain.setValueAtTime(0, free);
      level.gain.linearRampToValueAtTime(0.2, free + 0.005); // without a click
      level.gain.setValueAtTime(0.2, free + ms / 1000 - 0.005);
      level.gain.linearRampToValueAtTime(0, free + ms / 1000);
      tone.connect(level).connect(speaker.destination);
      tone.start(free);
      tone.stop(free + ms / 1000);
      free += ms / 1000 + 0.02;
    }
  } catch { return; } // a device without sound; everything is seen as well
  document.dispatchEvent(new CustomEvent("wreath-sound", { detail: { name, tones: tones[name] } }));
}

// sounds joins the switch in the list of keys.
export function sounds() {
  const box = document.getElementById("sounds-on");
  if (!box) return;
  box.checked = sounding();
  box.addEventListener("change", () => {
    localStorage.setItem("wreath-sounds", box.checked ? "on" : "off");
    signal("taken");
  });
}
