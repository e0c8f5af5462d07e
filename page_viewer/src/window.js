// Whether readings come only after a tap that asks for them (as on some phones): where the browser says that they are granted, they
// come without one. A browser that cannot be asked about the sensor throws.
async function hasToAsk() {
  if (!globalThis.DeviceOrientationEvent?.requestPermission || !("ontouchend" in document)) return false;
  try {
    return (await navigator.permissions.query({ name: "gyroscope" })).state !== "granted";
  } catch {
    return true;
  }
}

// The phone's own turning turns the camera round the dancer. The button comes with the first reading of a real sensor, or where one
// must be asked for.
export function holdLikeAWindow(button, turn) {
  let on = false, before = null;
  addEventListener("deviceorientation", (event) => {
    if (event.alpha === null) return;
    button.hidden = false;
    if (on && before !== null) turn((((event.alpha - before + 540) % 360) - 180) * (Math.PI / 180));
    before = event.alpha;
  });
  hasToAsk().then((asked) => { if (asked) button.hidden = false; });
  button.addEventListener("click", async () => {
    if (!on && globalThis.DeviceOrientationEvent?.requestPermission) {
      if ((await DeviceOrientationEvent.requestPermission()) !== "granted") return;
    }
    on = !on;
    before = null;
    button.setAttribute("aria-pressed", String(on));
  });
}
