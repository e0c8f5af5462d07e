"""Small pictures of the dancer, drawn from arrays: a renderer takes a second to start, and some machines have none."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ..body.movement import SEGMENTS
from ..take import Floats
from .body import Body
from .rig import Rig

#: Side of a preview, pixels; each is drawn so many times larger and brought down, which smooths its edges.
PREVIEW_PX = 128
_FINER = 2
#: So many heights of the dancer are in a preview.
_HEIGHTS = 1.35
#: From where the dancer is looked at: from before her and a little from the side and from above.
_LOOKS_FROM = (1.5, -5.0, 0.6)
#: Light from above the looker's left, and what reaches every side.
_LIGHT_FROM = (-0.35, 0.65, 0.68)
_AMBIENT = 0.35
#: This share of the quads is covered without a hole; the rest, stretched over a joint, lies in folds.
_WHOLE_SHARE = 0.99


def posed(rig: Rig, body: Body, frame: int) -> Floats:
    """The body's points (V, 3) in one frame of the take, the middle of its joints at the origin."""
    turned, heads = rig.turned[frame], rig.origins_m[frame]
    shift = heads - heads.mean(axis=0) - np.einsum("bij,bj->bi", turned, rig.heads)
    # Each point goes with the weighted mean of what the bones do: one matrix (3, 4) for each.
    mixed = body.weights @ np.concatenate([turned.reshape(-1, 9), shift], axis=1)
    points: Floats = np.einsum("vij,vj->vi", mixed[:, :9].reshape(-1, 3, 3), body.vertices_m) + mixed[:, 9:]
    return points


def _looker(rig: Rig, frame: int) -> Floats:
    """Rows (3, 3): to the right, up and towards who looks, from before the dancer wherever she faces."""
    ahead = rig.turned[frame, rig.names.index(SEGMENTS[0])] @ [0.0, -1.0, 0.0]
    heading = np.arctan2(ahead[0], -ahead[1])
    cosine, sine = np.cos(heading), np.sin(heading)
    towards = np.array([[cosine, -sine, 0.0], [sine, cosine, 0.0], [0.0, 0.0, 1.0]]) @ _LOOKS_FROM
    towards /= np.linalg.norm(towards)
    right = np.cross([0.0, 0.0, 1.0], towards)
    right /= np.linalg.norm(right)
    return np.stack([right, np.cross(towards, right), towards])


def _pixels(corners: NDArray[np.float32], count: int, size_px: int) -> NDArray[np.int32]:
    """The pixels (Q, count²) that quads of corners (4, Q, 2), in pixels from the lower left, cover; one past the last outside."""
    steps = (np.arange(count, dtype=np.float32) + 0.5) / count
    u, v = (each.ravel() for each in np.meshgrid(steps, steps))
    shares = np.stack([(1 - u) * (1 - v), u * (1 - v), u * v, (1 - u) * v])
    # What is cut off towards nought instead of down lies outside either way: pictures are larger than the dancer.
    columns, rows = ((corners[..., axis].T @ shares).astype(np.int32) for axis in (0, 1))
    inside = (np.minimum(columns, rows) >= 0) & (np.maximum(columns, rows) < size_px)
    return np.where(inside, rows * size_px + columns, size_px**2)


def _topmost(corners: NDArray[np.float32], size_px: int) -> NDArray[np.int64]:
    """The last quad (size_px²,) of corners (4, Q, 2), in pixels, that covers each pixel; -1 where there is none."""
    longest = np.hypot(*np.moveaxis(corners - corners[[3, 0, 1, 2]], -1, 0)).max(axis=0)
    # So many points to a quad that none of its pixels stays empty; most quads are hardly larger than a pixel.
    counts = np.maximum(np.ceil(1.4 * np.minimum(longest, np.quantile(longest, _WHOLE_SHARE))), 2).astype(np.int64)
    top = np.full(size_px**2 + 1, -1)
    for count in np.unique(counts).tolist():
        alike, covered = np.flatnonzero(counts == count), np.full(size_px**2 + 1, -1)
        covered[_pixels(corners[:, alike], count, size_px)] = alike[:, None]
        np.maximum(top, covered, out=top)
    return top[:-1]


def _drawn(points: Floats, looker: Floats, body: Body, colours: NDArray[np.float32], size_m: float) -> NDArray[np.float32]:
    """A picture (PREVIEW_PX, PREVIEW_PX, 4) of one body, its lowest row first; colours (Q, 3): of its quads."""
    fine, corners = PREVIEW_PX * _FINER, (points @ looker.T).astype(np.float32)[body.quads.T]
    one, other = np.moveaxis(corners[2] - corners[0], -1, 0), np.moveaxis(corners[3] - corners[1], -1, 0)
    facing = np.stack([one[i] * other[j] - one[j] * other[i] for i, j in ((1, 2), (2, 0), (0, 1))], axis=1)
    # What faces away is hidden; the nearest comes last, and what comes last stays.
    near = np.flatnonzero(facing[:, 2] > 0.0)
    near = near[np.argsort(corners[:, near, 2].sum(axis=0))]
    top = _topmost(corners[:, near, :2] * np.float32(fine / size_m) + np.float32(0.5 * fine), fine)
    covered = np.flatnonzero(top >= 0)
    normals = facing[near] / np.maximum(np.linalg.norm(facing[near], axis=1, keepdims=True), np.float32(1e-12))
    light = np.array(_LIGHT_FROM, dtype=np.float32) / np.float32(np.linalg.norm(_LIGHT_FROM))
    lit = (_AMBIENT + (1.0 - _AMBIENT) * np.clip(normals @ light, 0.0, 1.0))[:, None] * colours[near]
    rows, columns = np.divmod(covered, fine)
    cells = rows // _FINER * PREVIEW_PX + columns // _FINER
    count = np.bincount(cells, minlength=PREVIEW_PX**2)
    sums = np.stack([np.bincount(cells, values, PREVIEW_PX**2) for values in lit[top[covered]].T], axis=1)
    shown = np.flatnonzero(count)
    shades = np.zeros((PREVIEW_PX**2, 4), dtype=np.float32)
    # Previews are shown as they are stored: in the screen's encoding, not in light.
    shades[shown, :3] = (sums[shown] / count[shown, None]) ** (1.0 / 2.2)
    shades[:, 3] = count / _FINER**2
    return shades.reshape(PREVIEW_PX, PREVIEW_PX, 4)


def previews(rig: Rig, body: Body, frames: Sequence[int]) -> list[NDArray[np.float32]]:
    """A picture (PREVIEW_PX, PREVIEW_PX, 4) of the dancer in each of the frames, lowest row first, clear around her."""
    size_m = _HEIGHTS * float(rig.tails[:, 2].max())
    colours = body.colours[body.quads].mean(axis=1).astype(np.float32)
    return [_drawn(posed(rig, body, frame), _looker(rig, frame), body, colours, size_m) for frame in frames]
