"""Points, directions and projective maps for the demo pictures. Lengths are metres unless a name says pixels."""

from collections.abc import Iterable, Sequence
from itertools import pairwise
from math import cos, radians, sin, sqrt

type Vec = tuple[float, float, float]
type Point = tuple[float, float]
type Matrix = tuple[float, ...]


def add(a: Vec, b: Vec, scale: float = 1.0) -> Vec:
    """a + scale * b."""
    return (a[0] + b[0] * scale, a[1] + b[1] * scale, a[2] + b[2] * scale)


def scaled(a: Vec, by: float) -> Vec:
    """by * a."""
    return (a[0] * by, a[1] * by, a[2] * by)


def mean(points: Sequence[Vec]) -> Vec:
    """The middle of some points."""
    total: Vec = (0.0, 0.0, 0.0)
    for p in points:
        total = add(total, p)
    return scaled(total, 1 / len(points))


def sub(a: Vec, b: Vec) -> Vec:
    """a - b."""
    return (a[0] - b[0], a[1] - b[1], a[2] - b[2])


def dot(a: Vec, b: Vec) -> float:
    """Inner product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def cross(a: Vec, b: Vec) -> Vec:
    """Vector product."""
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


def unit(a: Vec) -> Vec:
    """The direction of a; straight up for a vector without length."""
    length = sqrt(dot(a, a))
    return (a[0] / length, a[1] / length, a[2] / length) if length > 1e-12 else (0.0, 0.0, 1.0)


def spin(point: Point, degrees: float) -> Point:
    """A flat point turned counter-clockwise about the origin."""
    c, s = cos(radians(degrees)), sin(radians(degrees))
    return (point[0] * c - point[1] * s, point[0] * s + point[1] * c)


def curve(points: Sequence[Point], steps: int = 8, closed: bool = True) -> list[Point]:
    """A smooth line through the points (Catmull-Rom)."""
    count = len(points)
    result: list[Point] = []
    for i in range(count if closed else count - 1):
        around = [i - 1, i, i + 1, i + 2]
        p = [points[k % count] if closed else points[max(0, min(count - 1, k))] for k in around]
        for step in range(steps):
            t = step / steps
            weights = (
                (-t + 2 * t * t - t**3) / 2,
                (2 - 5 * t * t + 3 * t**3) / 2,
                (t + 4 * t * t - 3 * t**3) / 2,
                (t**3 - t * t) / 2,
            )
            result.append(
                (
                    sum(w * q[0] for w, q in zip(weights, p, strict=True)),
                    sum(w * q[1] for w, q in zip(weights, p, strict=True)),
                )
            )
    return result if closed else [*result, points[-1]]


def hull(points: Iterable[Point]) -> list[Point]:
    """The convex outline of flat points."""
    ordered = sorted(set(points))
    if len(ordered) < 3:
        return ordered

    def half(run: Iterable[Point]) -> list[Point]:
        out: list[Point] = []
        for p in run:
            while len(out) > 1 and (
                (out[-1][0] - out[-2][0]) * (p[1] - out[-2][1]) <= (out[-1][1] - out[-2][1]) * (p[0] - out[-2][0])
            ):
                out.pop()
            out.append(p)
        return out[:-1]

    return half(ordered) + half(reversed(ordered))


def inverted(m: Matrix) -> Matrix:
    a, b, c, d, e, f, g, h, i = m
    return (
        e * i - f * h,
        c * h - b * i,
        b * f - c * e,
        f * g - d * i,
        a * i - c * g,
        c * d - a * f,
        d * h - e * g,
        b * g - a * h,
        a * e - b * d,
    )


def times(m: Matrix, n: Matrix) -> Matrix:
    a, b, c, d, e, f, g, h, i = m
    j, k, o, p, q, r, s, t, u = n
    return (
        a * j + b * p + c * s,
        a * k + b * q + c * t,
        a * o + b * r + c * u,
        d * j + e * p + f * s,
        d * k + e * q + f * t,
        d * o + e * r + f * u,
        g * j + h * p + i * s,
        g * k + h * q + i * t,
        g * o + h * r + i * u,
    )


def square_to(q: Sequence[Point]) -> Matrix:
    """The projective map that takes the unit square (0,0) (1,0) (1,1) (0,1) to the four points."""
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = q
    dx1, dx2, sx = x1 - x2, x3 - x2, x0 - x1 + x2 - x3
    dy1, dy2, sy = y1 - y2, y3 - y2, y0 - y1 + y2 - y3
    den = dx1 * dy2 - dx2 * dy1
    if abs(den) < 1e-9:
        den = 1e-9
    g, h = (sx * dy2 - dx2 * sy) / den, (dx1 * sy - sx * dy1) / den
    return (x1 - x0 + g * x1, x3 - x0 + h * x3, x0, y1 - y0 + g * y1, y3 - y0 + h * y3, y0, g, h, 1.0)


def area(points: Sequence[Point]) -> float:
    pairs = zip(points, [*points[1:], points[0]], strict=True)
    return abs(sum(p[0] * q[1] - q[0] * p[1] for p, q in pairs)) / 2


def inside(p: Point, outline: Sequence[Point]) -> bool:
    """Whether a point is inside a convex outline."""
    sides = [
        (q[0] - o[0]) * (p[1] - o[1]) - (q[1] - o[1]) * (p[0] - o[0])
        for o, q in zip(outline, [*outline[1:], outline[0]], strict=True)
    ]
    return all(s >= 0 for s in sides) or all(s <= 0 for s in sides)


def mean_step(points: Sequence[Vec]) -> float:
    """Mean distance from point to point, never zero."""
    steps = [sub(q, p) for p, q in pairwise(points)]
    return max(1e-4, sum(sqrt(dot(s, s)) for s in steps) / len(steps))
