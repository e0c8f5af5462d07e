// The dancer's data: unpacked, and the pose and severity of either take at a time.
import { AnimationMixer } from "three";

export async function unpacked(text) {
  const packed = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("deflate"));
  return new Response(stream).arrayBuffer();
}

// Where the earlier take is when this one is at a time; before the first pair and after the last, as far from it.
export function answering(pairs, time) {
  if (!pairs) return time;
  const { now, before } = pairs;
  const after = now.findIndex((at) => at >= time);
  if (after <= 0) return after ? before[before.length - 1] + time - now[now.length - 1] : before[0] + time - now[0];
  const share = (time - now[after - 1]) / Math.max(now[after] - now[after - 1], 1e-6);
  return before[after - 1] + share * (before[after] - before[after - 1]);
}

export async function takes(gltf, told) {
  const mixer = new AnimationMixer(gltf.scene);
  const found = {};
  for (const clip of gltf.animations) {
    const [levels, known] = await Promise.all(["levels", "known"].map((name) => gltf.parser.getDependency("accessor", clip.userData[name])));
    found[clip.name] = { clip, action: mixer.clipAction(clip), rate: clip.userData.rate_hz, levels: levels.array, known: known.array };
  }
  const count = told.segments.length;
  const uniforms = { level: { value: new Float32Array(count) }, known: { value: new Float32Array(count).fill(1) } };
  return {
    found, uniforms,
    show(name, time) {
      const take = found[name];
      const at = Math.min(Math.max(time, 0), take.clip.duration);
      for (const other of Object.values(found)) if (other !== take) other.action.stop();
      take.action.play();
      take.action.paused = false;
      take.action.time = at;
      mixer.update(0);
      const rows = take.levels.length / count, row = Math.min(at * take.rate, rows - 1), low = Math.floor(row), share = row - low;
      const high = Math.min(low + 1, rows - 1);
      for (let part = 0; part < count; part++) {
        const [first, second] = [low, high].map((which) => which * count + part);
        uniforms.level.value[part] = (take.levels[first] * (1 - share) + take.levels[second] * share) / 255;
        uniforms.known.value[part] = take.known[first] ? 1 : 0;
      }
    },
  };
}
