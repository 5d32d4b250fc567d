"""A very small picture studio: a pinhole camera, one key light, textured planes and curved skins, soft shadows.

Lengths are metres, z is up, y runs away from the camera. Painting order is the order of the calls: far things first.
"""

from collections.abc import Sequence
from itertools import pairwise
from math import cos, log2, radians, sin, sqrt, tan
from random import Random

from PIL import Image, ImageChops, ImageDraw, ImageFilter

from config.demo import textures
from config.demo.geometry import (
    Matrix,
    Point,
    Vec,
    add,
    area,
    cross,
    dot,
    hull,
    inside,
    inverted,
    mean,
    mean_step,
    scaled,
    spin,
    square_to,
    sub,
    times,
    unit,
)
from config.demo.paint import MATTE, Colour, Material, coloured, strip_of

NEAR = 0.02
FACET_GAIN = 1.5
_BILINEAR = Image.Resampling.BILINEAR
_BICUBIC = Image.Resampling.BICUBIC


class Stage:
    """One picture being made. `image` is the picture so far; `card_at` is where a part card may lie (share of frame),
    `card_width` its share of the width; it lies at height `card_z`, or hangs on the wall y = 0 when `card_hangs`."""

    def __init__(
        self,
        rng: Random,
        size: tuple[int, int],
        eye: Vec,
        target: Vec,
        *,
        fov: float = 48.0,
        light: Vec = (-0.45, -0.25, 0.86),
        shake: float = 1.0,
    ) -> None:
        """A camera at `eye` looking at `target`, randomly shaken a little; `fov` is across the long side, degrees."""
        self.rng = rng
        self.size = size
        self.image = Image.new("RGB", size, (70, 72, 74))
        reach = sqrt(dot(sub(target, eye), sub(target, eye))) * 0.035 * shake
        eye = add(eye, (rng.uniform(-3, 3), rng.uniform(-1, 1), rng.uniform(-1, 1.5)), reach)
        target = add(target, (rng.uniform(-1, 1), rng.uniform(-0.6, 0.6), rng.uniform(-0.5, 0.5)), reach)
        self.eye = eye
        self.forward = unit(sub(target, eye))
        right = unit(cross(self.forward, (0.0, 0.0, 1.0)))
        up = cross(right, self.forward)
        roll = radians(rng.uniform(-1.6, 1.6) * shake)
        self.right = add(scaled(right, cos(roll)), up, sin(roll))
        self.up = cross(self.right, self.forward)
        self.focal = (0.5 if size[0] > size[1] else 0.45) * max(size) / tan(radians(fov / 2))
        self.light = unit(light)
        self.card_at: tuple[float, float] = (0.13, 0.88)
        self.card_width = 0.19
        self.card_z = 0.0
        self.card_hangs = False

    # camera

    def project(self, p: Vec) -> Point:
        """Where a point of the shop falls in the picture, in pixels."""
        d = sub(p, self.eye)
        depth = max(NEAR, dot(d, self.forward))
        return (
            self.size[0] / 2 + self.focal * dot(d, self.right) / depth,
            self.size[1] / 2 - self.focal * dot(d, self.up) / depth,
        )

    def pixels(self, p: Vec) -> float:
        """How many pixels a metre is at that point."""
        return self.focal / max(NEAR, dot(sub(p, self.eye), self.forward))

    def on_plane(self, share: Point, z: float = 0.0) -> Vec:
        """The point at height z that is seen at a share of the frame (0 to 1 each way)."""
        x = (share[0] - 0.5) * self.size[0] / self.focal
        y = (0.5 - share[1]) * self.size[1] / self.focal
        ray = add(add(self.forward, self.right, x), self.up, y)
        reach = (z - self.eye[2]) / ray[2] if abs(ray[2]) > 1e-6 else 1.0
        return add(self.eye, ray, reach)

    def on_wall(self, share: Point, y: float = 0.0) -> Vec:
        """The point at distance y that is seen at a share of the frame."""
        x = (share[0] - 0.5) * self.size[0] / self.focal
        up = (0.5 - share[1]) * self.size[1] / self.focal
        ray = add(add(self.forward, self.right, x), self.up, up)
        return add(self.eye, ray, (y - self.eye[1]) / max(1e-6, ray[1]))

    def lit(self, normal: Vec, gloss: float = 0.0, at: Vec | None = None) -> float:
        """Brightness of a surface (1 = its own colour) facing `normal`; gloss adds the mirrored light."""
        n = unit(normal)
        value = 0.42 + 0.68 * max(0.0, dot(n, self.light)) + 0.1 * n[2]
        if gloss and at is not None:
            view = unit(sub(self.eye, at))
            half = unit(add(view, self.light))
            facing = max(0.0, dot(n, half))
            value += gloss * (0.9 * facing**60 + 0.22 * facing**8)
        return value

    # painting

    def _mask(
        self, box: tuple[int, int, int, int], outline: Sequence[Point], holes: Sequence[Sequence[Point]] = ()
    ) -> Image.Image:
        """Smooth-edged coverage of an outline with holes, over a box of the picture."""
        left, top, right, bottom = box
        mask = Image.new("L", ((right - left) * 2, (bottom - top) * 2))
        pen = ImageDraw.Draw(mask)
        pen.polygon([((x - left) * 2, (y - top) * 2) for x, y in outline], fill=255)
        for hole in holes:
            pen.polygon([((x - left) * 2, (y - top) * 2) for x, y in hole], fill=0)
        return mask.reduce(2)

    def _put(
        self,
        picture: Image.Image,
        box: tuple[int, int, int, int],
        outline: Sequence[Point],
        holes: Sequence[Sequence[Point]],
    ) -> None:
        """Lay a picture over a box inside an outline; the lower part that is wholly inside needs no mask."""
        left, top, right, bottom = box
        full = bottom
        if not holes and bottom - top > 200 and len(outline) == 4:
            for share in range(8):
                start = top + (bottom - top) * share // 8
                if all(inside(p, outline) for p in ((left, start), (right, start), (right, bottom), (left, bottom))):
                    full = start
                    break
        if full < bottom:
            self.image.paste(picture.crop((0, full - top, right - left, bottom - top)), (left, full))
        if full > top:
            head = (left, top, right, full)
            self.image.paste(
                picture if full == bottom else picture.crop((0, 0, right - left, full - top)),
                head[:2],
                self._mask(head, outline, holes),
            )

    def _box(self, points: Sequence[Point], margin: float = 1) -> tuple[int, int, int, int] | None:
        """The whole-pixel box round points, cut to the picture; None when nothing of it is in the picture."""
        xs, ys = [p[0] for p in points], [p[1] for p in points]
        left, top = max(0, int(min(xs) - margin)), max(0, int(min(ys) - margin))
        right, bottom = min(self.size[0], int(max(xs) + margin) + 1), min(self.size[1], int(max(ys) + margin) + 1)
        return (left, top, right, bottom) if right - left > 1 and bottom - top > 1 else None

    @staticmethod
    def _warp(
        source: Image.Image, inverse: Matrix, box: tuple[int, int, int, int], step: int = 1, outside: int | None = None
    ) -> Image.Image:
        """`source` seen through screen-to-source `inverse`, over a box, at 1/step resolution.

        `outside` is the value beyond the source's edges, so that the seams of small pieces do not turn black.
        """
        width, height = max(1, (box[2] - box[0]) // step), max(1, (box[3] - box[1]) // step)
        sx, sy = (box[2] - box[0]) / width, (box[3] - box[1]) / height
        m = times(inverse, (sx, 0.0, box[0], 0.0, sy, box[1], 0.0, 0.0, 1.0))
        last = m[8] if abs(m[8]) > 1e-12 else 1e-12
        data = tuple(v / last for v in m[:8])
        return source.transform((width, height), Image.Transform.PERSPECTIVE, data, _BILINEAR, fillcolor=outside)

    def _surface(
        self,
        material: Material,
        to_screen: Matrix,
        metres: tuple[float, float],
        scale: float,
        box: tuple[int, int, int, int],
        at: Point | None,
        step: int = 1,
    ) -> Image.Image:
        """Texture values over a box; `to_screen` maps metres on the surface, `scale` is screen pixels per metre."""
        if not material.texture:
            return Image.new("L", (box[2] - box[0], box[3] - box[1]), 128)
        side = textures.SIDE - 2
        density = min(material.density, side / max(metres[0], 1e-6), side / max(metres[1], 1e-6))
        level = max(0, min(5, int(log2(max(1.0, density / max(scale, 1.0))) + 0.35)))
        spare = [side - m * density for m in metres]
        if at is None:
            offset = [1 + self.rng.random() * max(0.0, room) for room in spare]
        else:
            offset = [1 + at[k] * density % max(1.0, spare[k]) for k in (0, 1)]
        shrink = 2.0**-level
        plain = material.texture in ("paint", "paper")
        if (plain or scale > 1.25 * density * shrink) and (box[2] - box[0]) * (box[3] - box[1]) > 60_000:
            step = max(step, 2)  # the texture is coarser than the pixels here: half the work shows no difference
        scaling = (density * shrink, 0.0, offset[0] * shrink, 0.0, density * shrink, offset[1] * shrink, 0.0, 0.0, 1.0)
        seen = self._warp(
            textures.texture(material.texture, level), times(scaling, inverted(to_screen)), box, step, 128
        )
        return seen if step == 1 else seen.resize((box[2] - box[0], box[3] - box[1]), _BILINEAR)

    def plane(
        self,
        origin: Vec,
        u: Vec,
        v: Vec,
        shape: Sequence[Point],
        material: Material,
        *,
        shade: float | None = None,
        holes: Sequence[Sequence[Point]] = (),
        step: int = 1,
    ) -> None:
        """Paint a flat shape given in metres along u and v from origin; step 2 is a little out of focus."""
        u, v = unit(u), unit(v)
        low = (min(p[0] for p in shape), min(p[1] for p in shape))
        span = (max(p[0] for p in shape) - low[0], max(p[1] for p in shape) - low[1])
        corner = add(add(origin, u, low[0]), v, low[1])
        outline = self._clipped([add(add(origin, u, p[0]), v, p[1]) for p in shape])
        box = self._box(outline) if len(outline) > 2 else None
        if box is None:
            return
        normal = cross(u, v)
        if dot(normal, sub(self.eye, corner)) < 0:
            normal = (-normal[0], -normal[1], -normal[2])
        gain = self.lit(normal) if shade is None else shade
        scale = sqrt(area(outline) / max(1e-9, area(shape)))
        values = self._surface(material, self._flat(corner, u, v), span, scale, box, None, step)
        cut = [[self.project(add(add(origin, u, p[0]), v, p[1])) for p in hole] for hole in holes]
        self._put(coloured(values, material.colour, gain, material.gloss > 0), box, outline, cut)

    def _flat(self, origin: Vec, u: Vec, v: Vec) -> Matrix:
        """Metres along u and v to picture pixels."""
        cx, cy = self.size[0] / 2, self.size[1] / 2
        columns = []
        for d in (u, v, sub(origin, self.eye)):
            depth = dot(d, self.forward)
            columns.append(
                (self.focal * dot(d, self.right) + cx * depth, cy * depth - self.focal * dot(d, self.up), depth)
            )
        return tuple(columns[c][r] for r in range(3) for c in range(3))

    def _clipped(self, points: Sequence[Vec]) -> list[Point]:
        """Outline in the picture of the part of a flat shape that lies before the camera."""
        depth = [dot(sub(p, self.eye), self.forward) - NEAR * 2 for p in points]
        kept: list[Vec] = []
        for i, p in enumerate(points):
            j = (i + 1) % len(points)
            if depth[i] > 0:
                kept.append(p)
            if (depth[i] > 0) != (depth[j] > 0):
                kept.append(add(p, sub(points[j], p), depth[i] / (depth[i] - depth[j])))
        return [self.project(p) for p in kept]

    def rect(
        self, x: Point, y: Point, material: Material, z: float = 0.0, shade: float | None = None, step: int = 1
    ) -> None:
        """Paint a level rectangle, such as a bench top."""
        shape = [(0.0, 0.0), (x[1] - x[0], 0.0), (x[1] - x[0], y[1] - y[0]), (0.0, y[1] - y[0])]
        self.plane((x[0], y[0], z), (1, 0, 0), (0, 1, 0), shape, material, shade=shade, step=step)

    def box(self, at: Vec, size: Vec, material: Material, *, turn: float = 0.0, top: Material | None = None) -> None:
        """Paint a block: `at` is the middle of its underside, `turn` its angle about the vertical in degrees."""
        hx, hy = size[0] / 2, size[1] / 2
        u3, v3 = (*spin((1, 0), turn), 0.0), (*spin((0, 1), turn), 0.0)
        walls = []
        for out, along, half_out, half in ((u3, v3, hx, hy), (v3, u3, hy, hx)):
            for sign in (1.0, -1.0):
                middle = add(at, out, half_out * sign)
                normal = (out[0] * sign, out[1] * sign, 0.0)
                if dot(normal, sub(self.eye, middle)) > 0:
                    walls.append((dot(sub(middle, self.eye), self.forward), middle, along, half, normal))
        for _, middle, along, half, normal in sorted(walls, key=lambda wall: -wall[0]):
            shape = [(-half, 0.0), (half, 0.0), (half, size[2]), (-half, size[2])]
            self.plane(middle, along, (0, 0, 1), shape, material, shade=self.lit(normal))
        shape = [(-hx, -hy), (hx, -hy), (hx, hy), (-hx, hy)]
        self.plane(add(at, (0, 0, 1), size[2]), u3, v3, shape, top or material)

    def quad(
        self,
        corners: Sequence[Point],
        material: Material,
        shades: Sequence[float],
        metres: tuple[float, float] = (1, 1),
        at: Point | None = None,
        grow: float = 0.0,
    ) -> None:
        """Paint four picture points with a texture and one brightness per corner."""
        if grow:
            mx, my = sum(p[0] for p in corners) / 4, sum(p[1] for p in corners) / 4
            outline = [
                (p[0] + grow * ((p[0] > mx) - (p[0] < mx)), p[1] + grow * ((p[1] > my) - (p[1] < my))) for p in corners
            ]
        else:
            outline = list(corners)
        box = self._box(outline)
        if box is None or area(corners) < 0.5:
            return
        square = square_to(corners)
        metric = times(square, (1 / metres[0], 0.0, 0.0, 0.0, 1 / metres[1], 0.0, 0.0, 0.0, 1.0))
        scale = sqrt(area(corners) / (metres[0] * metres[1]))
        values = self._surface(material, metric, metres, scale, box, at)
        gain = max(0.05, min(FACET_GAIN, max(shades)))
        if gain - min(shades) > 0.025:
            values = ImageChops.multiply(values, self._grade(shades, square, box).resize(values.size, _BILINEAR))
            gain = FACET_GAIN
        self.image.paste(coloured(values, material.colour, gain, material.gloss > 0), box[:2], self._mask(box, outline))

    def _grade(self, shades: Sequence[float], square: Matrix, box: tuple[int, int, int, int]) -> Image.Image:
        """Brightness over a box, at low resolution, from the brightness at the four corners of the square in it."""
        tiny = Image.new("L", (2, 2))
        tiny.putdata([round(255 * max(0.0, min(1.0, shades[k] / FACET_GAIN))) for k in (0, 1, 3, 2)])
        ramp = tiny.resize((20, 20), _BILINEAR)
        inner = times((10.0, 0.0, 5.0, 0.0, 10.0, 5.0, 0.0, 0.0, 1.0), inverted(square))
        short = min(box[2] - box[0], box[3] - box[1])
        step = 1 if short < 12 else 3 if short < 100 else 8
        return self._warp(ramp, inner, box, step, round(255 * min(1.0, sum(shades) / 4 / FACET_GAIN)))

    def skin(
        self, grid: Sequence[Sequence[Vec]], outside: Material, inside: Material | None = None, *, flip: bool = False
    ) -> None:
        """Paint a curved skin given as rows of points; the far pieces first, each side in its own material."""
        rows, columns = len(grid), len(grid[0])
        inside = inside or outside
        sign = -1.0 if flip else 1.0
        normals = [[self._normal(grid, i, j, sign) for j in range(columns)] for i in range(rows)]
        middle_row, middle_column = grid[rows // 2], [row[columns // 2] for row in grid]
        metres = (mean_step(middle_row), mean_step(middle_column))
        pieces = []
        for i in range(rows - 1):
            for j in range(columns - 1):
                corners = [grid[i][j], grid[i][j + 1], grid[i + 1][j + 1], grid[i + 1][j]]
                middle = mean(corners)
                pieces.append((dot(sub(middle, self.eye), self.forward), i, j, middle, corners))
        for _, i, j, middle, corners in sorted(pieces, key=lambda piece: -piece[0]):
            around = [normals[i][j], normals[i][j + 1], normals[i + 1][j + 1], normals[i + 1][j]]
            front = dot(mean(around), sub(self.eye, middle)) > 0
            material = outside if front else inside
            turn = 1.0 if front else -1.0
            shades = [self.lit(scaled(n, turn), material.gloss, c) for n, c in zip(around, corners, strict=True)]
            where = (j * metres[0], i * metres[1])
            self.quad([self.project(c) for c in corners], material, shades, metres, where, grow=0.5)

    @staticmethod
    def _normal(grid: Sequence[Sequence[Vec]], i: int, j: int, sign: float) -> Vec:
        across = sub(grid[i][min(j + 1, len(grid[0]) - 1)], grid[i][max(j - 1, 0)])
        along = sub(grid[min(i + 1, len(grid) - 1)][j], grid[max(i - 1, 0)][j])
        n = cross(across, along)
        return unit((n[0] * sign, n[1] * sign, n[2] * sign))

    def decal(self, picture: Image.Image, origin: Vec, u: Vec, v: Vec, shade: float | None = None) -> None:
        """Lay a flat picture (RGB or RGBA): top-left corner at origin, u along its top, v down its side, metres."""
        corners = [origin, add(origin, u), add(add(origin, u), v), add(origin, v)]
        gain = self.lit(cross(v, u)) if shade is None else shade
        self.decal_on([self.project(c) for c in corners], picture, gain)

    def decal_on(self, corners: Sequence[Point], picture: Image.Image, shade: float = 1.0) -> None:
        """Lay a flat picture over four picture points: top left, top right, bottom right, bottom left."""
        box = self._box(corners)
        if box is None:
            return
        scale = sqrt(picture.width * picture.height / max(1.0, area(corners)))
        if scale > 2:
            picture = picture.reduce(int(scale))
        to_source = times(
            (picture.width - 4.0, 0.0, 2.0, 0.0, picture.height - 4.0, 2.0, 0.0, 0.0, 1.0), inverted(square_to(corners))
        )
        seen = self._warp(picture, to_source, box)
        mask = self._mask(box, corners)
        if seen.mode == "RGBA":
            mask = ImageChops.multiply(mask, seen.getchannel("A"))
            seen = seen.convert("RGB")
        if shade < 0.98:
            seen = seen.point([min(255, round(v * shade)) for v in range(256)] * 3)
        self.image.paste(seen, box[:2], mask)

    def soft(self, outlines: Sequence[Sequence[Point]], colour: Colour, strength: float, blur: float) -> None:
        """Lay a blurred patch of colour: dark for a shadow, light for a sheen. Strength 0 to 1, blur in pixels."""
        box = self._box([p for outline in outlines for p in outline], blur * 2.5 + 4)
        if box is None:
            return
        step = max(1, min(8, int(blur / 2.5)))
        width, height = (box[2] - box[0]) // step + 1, (box[3] - box[1]) // step + 1
        mask = Image.new("L", (width, height))
        pen = ImageDraw.Draw(mask)
        for outline in outlines:
            if len(outline) > 2:
                pen.polygon(
                    [((x - box[0]) / step, (y - box[1]) / step) for x, y in outline], fill=round(255 * strength)
                )
        mask = mask.filter(ImageFilter.GaussianBlur(blur / step))
        if step > 1:
            mask = mask.resize((width * step, height * step), _BILINEAR)
        mask = mask.crop((0, 0, box[2] - box[0], box[3] - box[1]))
        self.image.paste(Image.new("RGB", mask.size, colour), box[:2], mask)

    def shadow(
        self, solids: Sequence[Sequence[Vec]], *, z: float = 0.0, strength: float = 0.55, blur: float = 0.02
    ) -> None:
        """The shadow that solids (each a cloud of corners) throw on the level z; blur in metres."""
        outlines = []
        for solid in solids:
            feet = [add(p, self.light, -(p[2] - z) / self.light[2]) for p in solid]
            outlines.append(hull(self.project(f) for f in feet))
        near = self.pixels(solids[0][0])
        self.soft(outlines, (16, 17, 24), strength, max(2.0, min(70.0, blur * near)))

    def block_shadow(self, at: Vec, size: Vec, turn: float = 0.0, strength: float = 0.55, blur: float = 0.02) -> None:
        """The shadow of a block placed as for `box`, on the level it stands on."""
        corners = []
        for sx in (-0.5, 0.5):
            for sy in (-0.5, 0.5):
                x, y = spin((size[0] * sx, size[1] * sy), turn)
                corners += [add(at, (x, y, 0.0)), add(at, (x, y, size[2]))]
        self.shadow([corners], z=at[2], strength=strength, blur=blur)

    def tube(
        self,
        start: Point,
        end: Point,
        r0: float,
        r1: float,
        colour: Colour,
        profile: Sequence[int] = MATTE,
        gain: float = 1.0,
    ) -> None:
        """A straight round bar between two picture points; radii in pixels; its light side is its upper left."""
        dx, dy = end[0] - start[0], end[1] - start[1]
        length = sqrt(dx * dx + dy * dy)
        if length < 0.5:
            return
        nx, ny = dy / length, -dx / length
        if nx * -0.6 + ny * -0.8 < 0:
            nx, ny = -nx, -ny
        corners = [
            (start[0] + nx * r0, start[1] + ny * r0),
            (end[0] + nx * r1, end[1] + ny * r1),
            (end[0] - nx * r1, end[1] - ny * r1),
            (start[0] - nx * r0, start[1] - ny * r0),
        ]
        box = self._box(corners)
        if box is None:
            return
        strip = strip_of(tuple(profile))
        inverse = times((2.0, 0.0, 3.0, 0.0, 56.0, 4.0, 0.0, 0.0, 1.0), inverted(square_to(corners)))
        self.image.paste(
            coloured(self._warp(strip, inverse, box, outside=90), colour, gain, True), box[:2], self._mask(box, corners)
        )

    def rod(
        self, start: Vec, end: Vec, r: float, colour: Colour, profile: Sequence[int] = MATTE, r1: float | None = None
    ) -> None:
        """A straight round bar between two points of the shop; radii in metres."""
        r1 = r if r1 is None else r1
        self.tube(
            self.project(start), self.project(end), r * self.pixels(start), r1 * self.pixels(end), colour, profile
        )

    def cable(self, points: Sequence[Point], width: float, colour: Colour, shine: float = 0.5) -> None:
        """A bent round cord through picture points; width in pixels. Long ones are painted in pieces: far less area."""
        piece = 6 if len(points) > 8 else len(points)
        for start in range(0, len(points) - 1, piece):
            shown = points[start : start + piece + 1]
            self._cord(shown, points[max(0, start - 1) : start + piece + 2], width, colour, shine)

    def _cord(
        self, shown: Sequence[Point], shaded: Sequence[Point], width: float, colour: Colour, shine: float
    ) -> None:
        """One piece of a cord; the shading runs on into its neighbours so that no joint shows."""
        box = self._box(shown, width + 2)
        if box is None:
            return
        layer = Image.new("L", ((box[2] - box[0]) * 2, (box[3] - box[1]) * 2))
        cover = Image.new("L", layer.size)
        spine = [((x - box[0]) * 2, (y - box[1]) * 2) for x, y in shown]
        ImageDraw.Draw(cover).line(spine, fill=255, width=max(1, round(width * 2)), joint="curve")
        line = [((x - box[0]) * 2, (y - box[1]) * 2) for x, y in shaded]
        pen = ImageDraw.Draw(layer)
        for share, value in ((1.0, 62), (0.78, 98), (0.52, 128), (0.24, round(128 + 120 * shine))):
            lift = width * (1 - share) * 0.36
            pen.line(
                [(x - lift, y - lift * 1.3) for x, y in line],
                fill=value,
                width=max(1, round(width * 2 * share)),
                joint="curve",
            )
        self.image.paste(coloured(layer.reduce(2), colour, 1.0, True), box[:2], cover.reduce(2))

    def puff(
        self,
        outline: Sequence[Point],
        colour: Colour,
        depth: float,
        *,
        texture: str = "",
        relief: float = 0.65,
        gloss: bool = False,
        opacity: float = 1.0,
        base: int = 122,
    ) -> None:
        """A swollen form with this outline: light from the upper left models its edges. Depth is the rim, in pixels."""
        box = self._box(outline)
        if box is None:
            return
        mask = self._mask(box, outline)
        step = max(1, min(6, int(depth / 3)))
        pad = int(depth / step * 1.6) + 2
        small = mask.resize((max(2, mask.width // step), max(2, mask.height // step)), Image.Resampling.BOX)
        wide = Image.new("L", (small.width + 2 * pad, small.height + 2 * pad))
        wide.paste(small, (pad, pad))
        height = wide.filter(ImageFilter.GaussianBlur(depth / step))
        shift = max(1, round(depth / step * 0.45))
        relit = ImageChops.subtract(
            ImageChops.offset(height, -shift, -round(shift * 1.5)),
            ImageChops.offset(height, shift, round(shift * 1.5)),
            1 / relief,
            base,
        )
        rim = height.point([round(255 * min(1.0, 0.62 + 0.5 * max(0, v - 96) / 159)) for v in range(256)])
        values = ImageChops.multiply(relit, rim).crop((pad, pad, pad + small.width, pad + small.height))
        values = values.resize(mask.size, _BICUBIC if step < 4 else _BILINEAR)
        if texture:
            sheet = textures.texture(texture)
            if sheet.width < max(mask.size):
                sheet = sheet.resize((max(mask.size), max(mask.size)))
            left = self.rng.randrange(max(1, sheet.width - mask.width))
            top = self.rng.randrange(max(1, sheet.height - mask.height))
            grain = sheet.crop((left, top, left + mask.width, top + mask.height))
            values = ImageChops.add(values, grain, 1, -128)
        if opacity < 1:
            mask = mask.point([round(v * opacity) for v in range(256)])
        self.image.paste(coloured(values, colour, 1.0, gloss), box[:2], mask)

    @staticmethod
    def ring(centre: Vec, radius: float, count: int = 28) -> list[Vec]:
        """Points of a level circle in the shop."""
        return [add(centre, (*spin((radius, 0), 360 * k / count), 0.0)) for k in range(count)]

    def disc(self, centre: Vec, radius: float, material: Material, shade: float | None = None) -> None:
        """A level disc."""
        shape = [spin((radius, 0), 360 * k / 32) for k in range(32)]
        self.plane(centre, (1, 0, 0), (0, 1, 0), shape, material, shade=shade)

    def turned(
        self,
        foot: Vec,
        sections: Sequence[Point],
        colour: Colour,
        profile: Sequence[int] = MATTE,
        top: Material | None = None,
    ) -> None:
        """An upright turned body: (height, radius) sections from the bottom up, and what closes its top."""
        for (h0, r0), (h1, r1) in pairwise(sections):
            low, high = self.ring(add(foot, (0, 0, h0)), r0), self.ring(add(foot, (0, 0, h1)), r1)
            outline = hull([self.project(p) for p in (*low, *high)])
            box = self._box(outline)
            if box is None:
                continue
            a, b = self.project(add(foot, (0, 0, h0))), self.project(add(foot, (0, 0, h1)))
            w0, w1 = r0 * self.pixels(add(foot, (0, 0, h0))), r1 * self.pixels(add(foot, (0, 0, h1)))
            w = max(w0, w1) + 1
            corners = [(b[0] - w, b[1] - w), (b[0] + w, b[1] - w), (a[0] + w, a[1] + w), (a[0] - w, a[1] + w)]
            inverse = times((60.0, 0.0, 2.0, 0.0, 2.0, 3.0, 0.0, 0.0, 1.0), inverted(square_to(corners)))
            strip = strip_of(tuple(profile)).transpose(Image.Transpose.TRANSPOSE)
            values = self._warp(strip, inverse, box, outside=90)
            self.image.paste(coloured(values, colour, 1.0, True), box[:2], self._mask(box, outline))
        if top is not None:
            height, radius = sections[-1]
            self.disc(add(foot, (0, 0, height)), radius, top)

    # finishing

    def finish(self, *, warmth: float | None = None, exposure: float | None = None) -> Image.Image:
        """The picture as a camera would give it: uneven light, dark corners, a colour cast, noise."""
        rng = self.rng
        warmth = rng.uniform(-0.045, 0.06) if warmth is None else warmth
        exposure = rng.uniform(1.0, 1.12) if exposure is None else exposure
        grid = (16, 12) if self.size[0] > self.size[1] else (12, 16)
        cx, cy = rng.uniform(0.3, 0.6), rng.uniform(0.25, 0.5)
        fall = rng.uniform(0.15, 0.32)
        levels = []
        for j in range(grid[1]):
            for i in range(grid[0]):
                dx, dy = (i + 0.5) / grid[0] - cx, (j + 0.5) / grid[1] - cy
                value = exposure * (1.0 - fall * (dx * dx + dy * dy) ** 0.85)
                edge = ((i + 0.5) / grid[0] - 0.5) ** 2 + ((j + 0.5) / grid[1] - 0.5) ** 2
                levels.append(max(0, min(255, round(252 * value * (1.0 - 0.32 * edge)))))
        small = Image.new("L", grid)
        small.putdata(levels)
        light = small.resize((grid[0] * 16, grid[1] * 16), _BICUBIC).resize(self.size, _BILINEAR)
        left, top = rng.randrange(440), rng.randrange(440)
        grain = textures.sensor_noise().crop((left, top, left + self.size[0], top + self.size[1]))
        light = ImageChops.add(light, grain, 1, -128)
        tilts = (1 + warmth, 1 + warmth * 0.15, 1 - warmth)
        bands = [light.point([min(255, round(v * tilt)) for v in range(256)]) for tilt in tilts]
        return ImageChops.multiply(self.image, Image.merge("RGB", bands))
