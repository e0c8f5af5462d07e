// The phone's own turning turns the camera round the dancer. The button comes with the first reading of a real sensor.
export function holdLikeAWindow(button, turn) {
  let on = false, before = null;
  addEventListener("deviceorientation", (event) => {
    if (event.alpha === null) return;
    button.hidden = false;
    if (on && before !== null) turn((((event.alpha - before + 540) % 360) - 180) * (Math.PI / 180));
    before = event.alpha;
  });
  if (globalThis.DeviceOrientationEvent?.requestPermission && "ontouchend" in document) button.hidden = false;
  button.addEventListener("click", async () => {
    if (!on && globalThis.DeviceOrientationEvent?.requestPermission) {
      if ((await DeviceOrientationEvent.requestPermission()) !== "granted") return;
    }
    on = !on;
    before = null;
    button.setAttribute("aria-pressed", String(on));
  });
}
