// The dancer's material: clothes with crisp edges, severity in colour and rings, grey where nothing is known.
import { Color, MeshLambertMaterial } from "three";

const vec3 = (colour) => `vec3(${colour.map((part) => part.toFixed(5)).join(",")})`;
const float = (number) => number.toFixed(6);

export function bodyMaterial(palette, told, uniforms) {
  const material = new MeshLambertMaterial({ color: new Color(1, 1, 1) });
  const count = told.segments.length;
  material.onBeforeCompile = (shader) => {
    Object.assign(shader.uniforms, uniforms);
    shader.vertexShader = shader.vertexShader
      .replace("#include <common>", `#include <common>
attribute vec4 _part; attribute float _along; attribute vec4 _surface;
uniform float level[${count}]; uniform float known[${count}];
varying float vLevel; varying float vKnown; varying float vAlong; varying vec4 vSurface;`)
      .replace("#include <skinning_vertex>", `
int first = int(_part.x + .5); int second = int(_part.y + .5); float share = _part.z / 255.;
vLevel = mix(level[first], level[second], share); vKnown = mix(known[first], known[second], share);
vAlong = _along * ${float(told.along_step_m)}; vSurface = _surface * ${float(told.surface_step_m)};
#include <skinning_vertex>
transformed += normalize(objectNormal) * ${float(palette.swelling_m)} * vLevel;`);
    const covers = palette.covers.map((colour, index) => {
      const edge = `vSurface[${index}]`;
      return `base = mix(base, ${vec3(colour)}, clamp(${edge} / max(fwidth(${edge}), .0005) + .5, 0., 1.));`;
    });
    shader.fragmentShader = shader.fragmentShader
      .replace("#include <common>", "#include <common>\nvarying float vLevel; varying float vKnown; varying float vAlong; varying vec4 vSurface;")
      .replace("#include <color_fragment>", `
vec3 base = ${vec3(palette.skin)}; ${covers.join("\n")}
float turned = clamp((vLevel - ${float(palette.turns_at)}) * ${float(palette.turns_gain)}, 0., 1.);
base = mix(base, mix(${vec3(palette.watch)}, ${vec3(palette.fault)}, turned), clamp(vLevel * ${float(palette.shown_gain)}, 0., 1.));
float wave = sin(6.2831853 * vAlong / ${float(palette.ring_every_m)});
float soft = max(fwidth(wave), .004);
base = mix(base, ${vec3(palette.ring)}, smoothstep(${float(palette.ring_above)} - soft, ${float(palette.ring_above)} + soft, wave) * turned * ${float(palette.ring_strength)});
base = mix(base, ${vec3(palette.cannot_tell)}, (1. - vKnown) * ${float(palette.unknown_strength)});
diffuseColor.rgb = base;`);
  };
  return material;
}
