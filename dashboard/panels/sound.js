// A sound for alarms, made here and fetched from nowhere: two falling tones when one comes, again
// every half minute until each is acknowledged. Only where the page says that it may sound.
(() => {
  if (window.musterplotSound) return;
  const AGAIN_MS = 30000, LOOK_MS = 1000;
  let context = null, last = 0, at = 0;
  const ready = () => {
    context = context || new AudioContext();
    if (context.state === "suspended") context.resume();
    return context.state === "running";
  };
  const tone = (begin, hertz) => {
    const made = context.createOscillator(), loud = context.createGain(), t = context.currentTime + begin;
    made.type = "triangle";
    made.frequency.value = hertz;
    loud.gain.setValueAtTime(0, t);
    loud.gain.linearRampToValueAtTime(0.5, t + 0.03);
    loud.gain.setValueAtTime(0.5, t + 0.3);
    loud.gain.linearRampToValueAtTime(0, t + 0.38);
    made.connect(loud).connect(context.destination);
    made.start(t);
    made.stop(t + 0.4);
  };
  const sound = () => {
    if (!ready()) return false;
    for (const [begin, hertz] of [[0, 740], [0.45, 554], [1.0, 740], [1.45, 554]]) tone(begin, hertz);
    window.musterplotSound.sounded += 1;
    return true;
  };
  const plate = () => {
    let it = document.getElementById("mp-mute");
    if (!it) {
      it = document.createElement("div");
      it.id = "mp-mute";
      it.className = "mp-mute";
      it.setAttribute("role", "status");
      document.body.append(it);
    }
    return it;
  };
  const look = () => {
    const place = document.querySelector("[data-may-sound]") && document.querySelector("[data-sounds]");
    const count = place ? Number(place.dataset.sounds) || 0 : 0;
    const due = count > last || (count > 0 && Date.now() - at >= AGAIN_MS);
    last = count;
    if (due && sound()) at = Date.now();
    const mute = count > 0 && (!context || context.state !== "running");
    plate().textContent = mute ? "No sound yet: press any key or click once, so that this browser lets alarms sound" : "";
  };
  window.musterplotSound = { sound, sounded: 0 };
  for (const act of ["pointerdown", "keydown"]) addEventListener(act, ready, { capture: true });
  addEventListener("click", (event) => {
    if (event.target.closest && event.target.closest(".st-key-try_sound button")) sound();
  });
  setInterval(look, LOOK_MS);
})();
