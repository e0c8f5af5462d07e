// The measure drawn on the dancer: the core's strokes and faces, seen before everything else.
import { BufferGeometry, Color, DoubleSide, Float32BufferAttribute, Group, Mesh, MeshBasicMaterial } from "three";
import { LineMaterial } from "three/examples/jsm/lines/LineMaterial.js";
import { LineSegments2 } from "three/examples/jsm/lines/LineSegments2.js";
import { LineSegmentsGeometry } from "three/examples/jsm/lines/LineSegmentsGeometry.js";

const WIDTH = { measured: 5, reference: 3.5, band: 3.5, aid: 2 };
const ORDER = { aid: 2, band: 3, reference: 5, measured: 7 };
// The laboratory's Z points up, the stage's Y.
export const place = ([x, y, z]) => [x, z, -y];
const linear = (colour) => new Color().setRGB(...colour);

function lines(strokes, palette) {
  const points = [];
  for (const line of strokes.lines) for (let i = 1; i < line.length; i++) points.push(...place(line[i - 1]), ...place(line[i]));
  const geometry = new LineSegmentsGeometry().setPositions(points);
  const made = [];
  const dashed = strokes.role === "reference";
  for (const [colour, width, order] of [[palette.rim, 4, -1], [palette[strokes.role], 0, 0]]) {
    if (strokes.role === "aid" && order) continue;
    const material = new LineMaterial({ color: linear(colour), linewidth: WIDTH[strokes.role] + width, depthTest: false, transparent: true,
      dashed: dashed && !order, dashSize: 0.035, gapSize: 0.025 });
    const line = new LineSegments2(geometry, material);
    if (dashed) line.computeLineDistances();
    line.renderOrder = ORDER[strokes.role] + order;
    made.push(line);
  }
  return made;
}

function faces(strokes, palette) {
  const points = strokes.faces.flatMap((corners) => [0, 1, 2, 0, 2, 3].flatMap((corner) => place(corners[corner])));
  const geometry = new BufferGeometry().setAttribute("position", new Float32BufferAttribute(points, 3));
  const material = new MeshBasicMaterial({ color: linear(palette.band), side: DoubleSide, depthTest: false, transparent: true, opacity: 0.75 });
  const mesh = new Mesh(geometry, material);
  mesh.renderOrder = ORDER.band;
  return [mesh];
}

export function drawn(pose, palette) {
  const group = new Group();
  for (const strokes of pose?.drawing ?? []) {
    if (strokes.faces || strokes.lines.length) group.add(...(strokes.faces ? faces : lines)(strokes, palette));
  }
  group.traverse((item) => { item.frustumCulled = false; });
  return group;
}
