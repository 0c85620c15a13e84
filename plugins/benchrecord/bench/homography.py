"""Maps between a plane and a picture of it (homographies): from points by least squares, with or without a radial term."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
DEGENERATE = 1e-6  # of the first singular value: below it the points do not fix a plane
FLAT = 1e-4  # of the first singular value: below it the picture shows the plane as a line
UNKNOWNS = 8  # of a homography whose last element is 1
STEPS, HALVINGS, STILL = 50, 12, 1e-13  # of Gauss and Newton; a step of this share of the unknowns is the last


def dlt(places: Floats, pixels: Floats) -> Floats | None:
    """Return the homography (3 × 3) of least algebraic distances between points (n, 2) and (n, 2), n ≥ 4.

    None where the points do not fix one. Normalised direct linear transformation (Hartley and Zisserman, Multiple View Geometry,
    algorithm 4.2; its number from memory).
    """
    to_places, to_pixels = _normalising(places), _normalising(pixels)
    if to_places is None or to_pixels is None:
        return None
    a, b = project(to_places, places), project(to_pixels, pixels)
    one, nil = np.ones(len(a)), np.zeros((len(a), 3))
    ends = np.column_stack([a, one])
    rows = np.vstack([
        np.column_stack([ends, nil, -b[:, :1] * ends]),
        np.column_stack([nil, ends, -b[:, 1:] * ends]),
    ])  # fmt: skip
    _, singular, vectors = np.linalg.svd(rows)
    if singular[7] < DEGENERATE * singular[0]:
        return None
    plane = vectors[-1].reshape(3, 3)
    sizes = np.linalg.svd(plane, compute_uv=False)
    if sizes[2] < FLAT * sizes[0]:
        return None
    found: Floats = np.linalg.inv(to_pixels) @ plane @ to_places
    return found / found[2, 2] if found[2, 2] != 0 else None


def project(matrix: Floats, points: Floats) -> Floats:
    """Return where a matrix (3 × 3) takes points (n, 2)."""
    ends = np.column_stack([points, np.ones(len(points))]) @ matrix.T
    flat: Floats = ends[:, :2] / ends[:, 2:]
    return flat


def refined(start: Floats, places: Floats, seen: Floats, *, bends: bool) -> tuple[Floats, float, float]:
    """Return the homography of least distances in the picture, its radial term, and the sum of squares left.

    From ``start`` by Gauss's and Newton's steps, halved where they overshoot. ``seen`` (n, 2) counts from the middle of the
    picture, where a radial term k, fitted with ``bends`` and else 0, stretches what is seen by 1 + k·r².
    """
    scaling = _normalising(places)
    if scaling is None:
        return start, 0.0, float(np.sum((project(start, places) - seen) ** 2))
    near, first = project(scaling, places), start @ np.linalg.inv(scaling)
    unknowns = np.append((first / first[2, 2]).ravel()[:UNKNOWNS], [0.0] * bends)
    off, slopes = _seen(unknowns, near, seen)
    for _ in range(STEPS):
        step: Floats = np.asarray(np.linalg.lstsq(slopes, -off, rcond=None)[0], np.float64)
        unknowns, (off, slopes), moved = _shortened(unknowns, step, off, near=near, seen=seen)
        if not moved or np.max(np.abs(step)) < STILL * np.max(np.abs(unknowns)):
            break
    matrix: Floats = np.append(unknowns[:UNKNOWNS], 1).reshape(3, 3) @ scaling
    return matrix, float(unknowns[UNKNOWNS]) if bends else 0.0, float(off @ off)


def _shortened(
    unknowns: Floats, step: Floats, off: Floats, *, near: Floats, seen: Floats
) -> tuple[Floats, tuple[Floats, Floats], bool]:
    """Go as much of a step as lowers the sum of squares; say whether any did."""
    for halving in range(HALVINGS):
        further = unknowns + step / 2**halving
        there = _seen(further, near, seen)
        if there[0] @ there[0] < off @ off:
            return further, there, True
    return unknowns, _seen(unknowns, near, seen), False


def _seen(unknowns: Floats, near: Floats, seen: Floats) -> tuple[Floats, Floats]:
    """Return how far all points are off (2n), and how that changes with each unknown (2n, 8 or 9)."""
    x, y = near.T
    a, b, c, d, e, f, g, h = unknowns[:UNKNOWNS]
    depth = g * x + h * y + 1
    u, v = (a * x + b * y + c) / depth, (d * x + e * y + f) / depth
    ends, nil = np.column_stack([x, y, np.ones(len(x))]) / depth[:, None], np.zeros((len(x), 3))
    du = np.column_stack([ends, nil, -u[:, None] * ends[:, :2]])
    dv = np.column_stack([nil, ends, -v[:, None] * ends[:, :2]])
    if len(unknowns) == UNKNOWNS:
        return np.concatenate([u - seen[:, 0], v - seen[:, 1]]), np.vstack([du, dv])
    k, square = unknowns[UNKNOWNS], u * u + v * v
    scale, turn = 1 + k * square, 2 * k * (u[:, None] * du + v[:, None] * dv)
    bent = np.concatenate([u * scale - seen[:, 0], v * scale - seen[:, 1]])
    wide = np.vstack([scale[:, None] * du + u[:, None] * turn, scale[:, None] * dv + v[:, None] * turn])
    return bent, np.column_stack([wide, np.concatenate([u * square, v * square])])


def _normalising(points: Floats) -> Floats | None:
    """Move points to the origin and scale them to a mean distance of √2 (Hartley's normalisation)."""
    middle = points.mean(axis=0)
    size = np.linalg.norm(points - middle, axis=1).mean()
    if size == 0:
        return None
    s = np.sqrt(2) / size
    return np.array([[s, 0, -s * middle[0]], [0, s, -s * middle[1]], [0, 0, 1]], np.float64)
