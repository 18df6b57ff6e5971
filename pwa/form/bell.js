// The sound of a clock that has ended: three tones made by code, and the phone's buzzer, repeated.
// A browser may silence a page that nobody has touched; the page warns that a locked phone is silent.

const TONES_HZ = [880, 660, 880];
const TONE_S = 0.18;
const AGAIN_MS = 1400;
const BUZZ_MS = [300, 150, 300];

/** Sounds the three tones once. @param {AudioContext} audio */
function sound(audio) {
  const volume = audio.createGain();
  volume.gain.value = 0.6;
  volume.connect(audio.destination);
  for (const [place, tone] of TONES_HZ.entries()) {
    const from = audio.currentTime + place * (TONE_S + 0.06);
    const voice = audio.createOscillator();
    voice.type = "square";
    voice.frequency.value = tone;
    voice.connect(volume);
    voice.start(from);
    voice.stop(from + TONE_S);
  }
}

export function createBell() {
  /** @type {AudioContext | null} */
  let audio = null;
  /** @type {ReturnType<typeof setInterval> | undefined} */
  let timer;
  function once() {
    navigator.vibrate?.(BUZZ_MS);
    if (audio?.state === "running") sound(audio);
  }
  return {
    /** To be called under a finger: only then does every browser let a page sound later. */
    prime: () => {
      audio ??= window.AudioContext === undefined ? null : new AudioContext();
      if (audio?.state === "suspended") void audio.resume();
    },
    ring: () => {
      once();
      timer = setInterval(once, AGAIN_MS);
    },
    hush: () => {
      clearInterval(timer);
      navigator.vibrate?.(0);
    },
  };
}
