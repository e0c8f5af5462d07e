// The student's page: the dancer in 3-D over the words and pictures that are there without it.
import { CircleGeometry, DirectionalLight, HemisphereLight, Mesh, PCFShadowMap, PerspectiveCamera, Scene,
  ShadowMaterial, Spherical, Vector3, WebGLRenderer } from "three";
import { OrbitControls } from "three/examples/jsm/controls/OrbitControls.js";
import { GLTFLoader } from "three/examples/jsm/loaders/GLTFLoader.js";
import { bodyMaterial } from "./body.js";
import { drawn, place } from "./drawn.js";
import { answering, takes, unpacked } from "./takes.js";
import { holdLikeAWindow } from "./window.js";

const AROUND_S = 0.8, HELD_S = 1.4, STEP_RAD = Math.PI / 12, FOV = 28, SHOWN_S = 0.02;
const stage = document.getElementById("stage");
const one = (name) => stage.querySelector(name);
const calm = matchMedia("(prefers-reduced-motion: reduce)");

function withoutDancer() {
  document.documentElement.classList.remove("dancer");
  // What the page says stands in it: this script has no words of its own.
  const without = document.querySelector(".without");
  without.textContent = without.dataset.says + (document.querySelector(".round") ? ` ${without.dataset.turn}` : "");
  stage.hidden = true;
  document.querySelectorAll(".show").forEach((button) => { button.hidden = true; });
}

async function start() {
  const told = JSON.parse(document.getElementById("scene").textContent);
  const canvas = one("canvas");
  const renderer = new WebGLRenderer({ canvas, antialias: true, alpha: true });
  renderer.setPixelRatio(Math.min(devicePixelRatio, 2));
  renderer.shadowMap.enabled = true;
  renderer.shadowMap.type = PCFShadowMap;
  const scene = new Scene();
  // Places are computed once a frame, by show().
  scene.matrixWorldAutoUpdate = false;
  const camera = new PerspectiveCamera(FOV, 1, 0.1, 60);
  scene.add(new HemisphereLight(0xffffff, 0xa89c90, 2.1));
  const sun = new DirectionalLight(0xfff4e6, 2.0);
  sun.castShadow = true;
  sun.shadow.mapSize.set(1024, 1024);
  Object.assign(sun.shadow.camera, { left: -1.5, right: 1.5, top: 1.5, bottom: -1.5, near: 1, far: 9 });
  sun.shadow.normalBias = 0.02;
  const floor = new Mesh(new CircleGeometry(4, 48), new ShadowMaterial({ opacity: 0.28 }));
  floor.rotation.x = -Math.PI / 2;
  floor.receiveShadow = true;
  scene.add(sun, sun.target, floor);
  const gltf = await new GLTFLoader().parseAsync(await unpacked(document.getElementById("dancer").textContent), "");
  let body = null;
  gltf.scene.traverse((item) => { if (item.isSkinnedMesh) body = item; });
  const meshTold = { segments: told.segments, ...body.userData, ...body.geometry.userData };
  const playing = await takes(gltf, told);
  body.material = bodyMaterial(told.palette, meshTold, playing.uniforms);
  body.frustumCulled = false;
  body.castShadow = true;
  scene.add(gltf.scene);
  const pelvis = body.skeleton.bones[told.segments.indexOf("pelvis")];
  const duration = playing.found.now.clip.duration;
  const controls = new OrbitControls(camera, canvas);
  controls.enablePan = false;
  controls.enableDamping = !calm.matches;
  controls.minDistance = 1;
  controls.maxDistance = 9;
  controls.maxPolarAngle = Math.PI * 0.52;
  // After OrbitControls, which sets none: a finger that goes down scrolls the page.
  canvas.style.touchAction = "pan-y";

  const state = { time: 0, take: "now", playing: false, speed: 0.5, card: null, held: 0, drawing: null, pose: null };
  const hips = new Vector3(), tag = one(".tag"), range = one("input[type=range]"), button = one(".play");
  let asked = false, last = 0, wide = 1, high = 1, pixel = 0, toldAt = NaN;

  const follow = () => {
    hips.setFromMatrixPosition(pelvis.matrixWorld);
    const aim = new Vector3(hips.x, 0.9, hips.z);
    camera.position.add(aim.clone().sub(controls.target));
    controls.target.copy(aim);
    sun.position.set(hips.x + 1.6, 4.2, hips.z + 1.8);
    sun.target.position.copy(aim);
    floor.position.set(hips.x, 0, hips.z);
  };
  const distance = () => {
    const half = Math.tan((FOV * Math.PI) / 360);
    return Math.min(Math.max(1.2 / half, 1.0 / (half * camera.aspect)), 9);
  };
  const turn = (azimuth, polar) => {
    camera.position.copy(controls.target).add(new Vector3().setFromSpherical(new Spherical(distance(), polar, azimuth)));
    controls.update();
  };
  const poseNow = () => (state.card ? state.card[state.take] : null);
  const atMoment = () => state.card && Math.abs(state.time - state.card.now.time) < SHOWN_S;
  // The number stands beside what is drawn, not on it: on the right, or where that leaves the stage, on the left.
  const beside = (pose, across, down) => {
    const seen = pose.drawing.filter((strokes) => strokes.role !== "aid").flatMap((strokes) => (strokes.lines ?? strokes.faces).flat())
      .map((point) => (new Vector3(...place(point)).project(camera).x * 0.5 + 0.5) * wide);
    const at = new Vector3(...place(pose.numberAt)).project(camera);
    const right = Math.max(...seen) + 10, left = Math.min(...seen) - 10 - across;
    const x = right + across + 4 > wide && left > 4 ? left : right;
    const y = (0.5 - at.y * 0.5) * high - down / 2;
    return [Math.min(Math.max(x, 4), wide - across - 4), Math.min(Math.max(y, 4), high - down - 4)];
  };
  const draw = () => {
    const pose = atMoment() ? poseNow() : null;
    if (pose !== state.pose) {
      if (state.drawing) scene.remove(state.drawing);
      state.pose = pose;
      state.drawing = pose ? drawn(pose, told.palette) : null;
      if (state.drawing) scene.add(state.drawing);
    }
    tag.hidden = !pose?.number;
    if (pose?.number) {
      tag.textContent = pose.number;
      const [x, y] = beside(pose, tag.offsetWidth, tag.offsetHeight);
      tag.style.transform = `translate(${x}px, ${y}px)`;
    }
  };
  const show = () => {
    const moment = atMoment() && state.card.before;
    playing.show(state.take, state.take === "now" ? state.time : moment ? state.card.before.time : answering(told.inStep, state.time));
    gltf.scene.updateMatrixWorld(true);
    follow();
    for (const item of [sun, sun.target, floor]) item.updateMatrixWorld(true);
    // The time line moves by whole pixels: each change costs the page a layout.
    if (state.playing && Math.abs(state.time - toldAt) < pixel) return;
    toldAt = state.time;
    range.value = String(state.time / duration);
    const { says, digits } = range.dataset;
    const said = says.replace("{at}", state.time.toFixed(digits)).replace("{all}", duration.toFixed(digits));
    if (said !== range.getAttribute("aria-valuetext")) range.setAttribute("aria-valuetext", said);
  };
  const frame = (clock) => {
    asked = false;
    const passed = Math.min((clock - last) / 1000, 0.1);
    last = clock;
    if (state.playing) {
      step(passed);
      show();
    }
    const moved = controls.update();
    const [round, up] = [controls.getAzimuthalAngle(), controls.getPolarAngle()];
    const eye = [round, up, controls.getDistance()].map((part) => part.toFixed(3)).join(" ");
    if (eye !== stage.dataset.eye) stage.dataset.eye = eye;
    camera.updateMatrixWorld();
    draw();
    renderer.render(scene, camera);
    if (state.playing || moved) ask();
  };
  const ask = () => {
    if (asked) return;
    asked = true;
    requestAnimationFrame(frame);
  };
  const step = (passed) => {
    const [from, to] = state.card ? [state.card.now.time - AROUND_S, state.card.now.time + AROUND_S] : [0, duration];
    if (state.held > 0) {
      state.held -= passed;
      return;
    }
    const next = state.time + passed * state.speed;
    if (state.card && state.time < state.card.now.time - 1e-6 && next >= state.card.now.time) {
      state.time = state.card.now.time;
      state.held = HELD_S;
    } else state.time = next > Math.min(to, duration) ? Math.max(from, 0) : next;
  };
  const play = (on) => {
    state.playing = on;
    state.held = 0;
    button.textContent = on ? button.dataset.pause : button.dataset.play;
    last = performance.now();
    if (!on) show();
    ask();
  };
  const look = (pose) => {
    const [x, y, z] = place(pose.from).map((value, axis) => value - place(pose.at)[axis]);
    const polar = Math.atan2(Math.hypot(x, z), y);
    turn(Math.atan2(x, z), Math.min(Math.max(polar, 0.6), Math.PI * 0.48));
  };
  const choose = (card) => {
    state.card = card;
    state.playing = false;
    document.querySelectorAll(".numbers a").forEach((link) => {
      if (card && link.hash === `#${card.id}`) link.setAttribute("aria-current", "true");
      else link.removeAttribute("aria-current");
    });
    if (card) {
      if (!card.before && state.take === "before") state.take = "now";
      state.time = card.now.time;
      one(".said").textContent = `${card.number}. ${card.cue}`;
    }
    play(false);
    if (card) look(poseNow());
  };

  addEventListener("resize", () => resize());
  const resize = () => {
    [wide, high] = [canvas.clientWidth, Math.max(canvas.clientHeight, 1)];
    pixel = duration / Math.max(range.clientWidth, 1);
    renderer.setSize(wide, high, false);
    camera.aspect = wide / high;
    camera.updateProjectionMatrix();
    ask();
  };
  controls.addEventListener("change", ask);
  controls.addEventListener("start", () => { one(".hint").hidden = true; });
  // A finger that turns out to scroll the page has tilted the view a little by then: put it back.
  let touched = null;
  canvas.addEventListener("pointerdown", () => { touched ??= camera.position.clone().sub(controls.target); }, true);
  canvas.addEventListener("pointerup", () => { touched = null; });
  canvas.addEventListener("pointercancel", () => {
    if (!touched) return;
    camera.position.copy(controls.target).add(touched);
    touched = null;
    ask();
  });
  button.addEventListener("click", () => play(!state.playing));
  range.addEventListener("input", () => {
    state.time = Number(range.value) * duration;
    if (state.card && Math.abs(state.time - state.card.now.time) > AROUND_S) choose(null);
    else play(false);
  });
  const turned = (azimuth, nearer = 1) => {
    const place = new Spherical().setFromVector3(camera.position.clone().sub(controls.target));
    place.theta += azimuth;
    place.radius = Math.min(Math.max(place.radius * nearer, 1), 9);
    camera.position.copy(controls.target).add(new Vector3().setFromSpherical(place));
    controls.update();
    ask();
  };
  const does = { left: () => turned(-STEP_RAD), right: () => turned(STEP_RAD), nearer: () => turned(0, 0.85), further: () => turned(0, 1.18) };
  for (const [name, act] of Object.entries(does)) one(`.${name}`).addEventListener("click", act);
  canvas.addEventListener("keydown", (event) => {
    const act = { ArrowLeft: does.left, ArrowRight: does.right, "+": does.nearer, "-": does.further, " ": () => play(!state.playing) }[event.key];
    if (!act) return;
    event.preventDefault();
    act();
  });
  stage.querySelectorAll("[name=speed]").forEach((input) => input.addEventListener("change", () => { state.speed = Number(input.value); }));
  one(".take").hidden = !playing.found.before;
  stage.querySelectorAll("[name=take]").forEach((input) => input.addEventListener("change", () => {
    state.take = input.value;
    show();
    if (poseNow() && !state.playing) look(poseNow());
    ask();
  }));
  const cardOf = (id) => told.cards.find((card) => card.id === id);
  document.querySelectorAll(".numbers a").forEach((link) => link.addEventListener("click", (event) => {
    // Without the stage the link goes to its card, as it does without scripts.
    if (stage.hidden) return;
    event.preventDefault();
    choose(cardOf(link.hash.slice(1)));
  }));
  document.querySelectorAll(".show").forEach((shown) => {
    shown.hidden = false;
    shown.addEventListener("click", () => {
      choose(cardOf(shown.dataset.card));
      stage.scrollIntoView({ behavior: calm.matches ? "auto" : "smooth", block: "start" });
      canvas.focus({ preventScroll: true });
    });
  });
  holdLikeAWindow(one(".window"), (azimuth) => turned(azimuth));
  canvas.addEventListener("webglcontextlost", withoutDancer);

  stage.hidden = false;
  document.documentElement.classList.add("dancer");
  scene.updateMatrixWorld();
  resize();
  if (told.opening) {
    state.time = told.opening.time;
    choose(null);
    look(told.opening);
  } else choose(told.cards[0]);
  stage.dataset.ready = "yes";
}

start().catch((error) => {
  withoutDancer();
  console.info(document.querySelector(".without").dataset.says, error?.message ?? error);
});
