"""Photographs of invented slabs, rendered with known truth, the same for the same seed.

A plane is painted in millimetres (slab, bark, sapwood, rings that flow round knots, cards, floor
with clutter, shadow) and seen through a camera with perspective, lens, blur, noise and JPEG. Light
adds up in linear values and is encoded as sRGB, as a phone does: blur then eats into dark squares.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np
from scipy.spatial import cKDTree

CARD_MM, SQUARE_MM = 120.0, 100.0


@dataclass(frozen=True)
class Hardness:
    """What makes a scene hard, each from 0 (absent) to 1."""

    shadow: float = 0.5
    clutter: float = 0.5
    bark: float = 0.7
    sap: float = 0.7
    tilt: float = 0.5
    lens: float = 0.5
    knots: float = 3.0
    floor: str = "concrete"
    like_wood: bool = False  # a floor of boards in the slab's own colours


@dataclass
class Scene:
    image: np.ndarray  # (h, w, 3) uint8, BGR
    face_mm: np.ndarray  # ring of the whole face within the bark
    sound_mm: np.ndarray  # ring within the sapwood
    knots: list[tuple[float, float, float, float]]  # x, y, half along, half across (mm)
    checks: list[np.ndarray]  # lines
    cards: dict[int, np.ndarray]  # id -> corners (4, 2) in mm, as drawn
    grain_origin: np.ndarray
    grain_step: float
    grain_deg: np.ndarray  # nan off the slab, in knots and on cards
    to_pixel: np.ndarray = field(default_factory=lambda: np.eye(3))
    lens: tuple[float, float, float] = (0.0, 0.0, 1.0)  # k1, k2, focal in px

    def pixels(self, points_mm: np.ndarray) -> np.ndarray:
        """Where points of the plane appear in the picture."""
        p = np.c_[points_mm, np.ones(len(points_mm))] @ self.to_pixel.T
        p = p[:, :2] / p[:, 2:]
        h, w = self.image.shape[:2]
        c = np.array([(w - 1) / 2, (h - 1) / 2])
        k1, k2, f = self.lens
        d = (p - c) / f
        r = (d**2).sum(1, keepdims=True)
        return c + d * (1 + k1 * r + k2 * r * r) * f


def value_noise(rng, shape, cell, octaves=3):
    out = np.zeros(shape, np.float32)
    for k in range(octaves):
        size = np.maximum(2, np.ceil(np.array(shape) / (np.array(cell) / 2**k)).astype(int) + 2)
        grid = rng.normal(0, 1, size).astype(np.float32)
        out += cv2.resize(grid, shape[::-1], interpolation=cv2.INTER_CUBIC) / 2**k
    return out


def srgb(linear):
    return np.where(
        linear <= 0.0031308, 12.92 * linear, 1.055 * np.maximum(linear, 1e-6) ** (1 / 2.4) - 0.055
    )


def linear(coded):
    return np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)


def colour(*rgb):
    return linear(np.array(rgb[::-1], np.float32) / 255).astype(np.float32)


def curve(rng, length, bend):
    """A pith line along x, gently bent: points every millimetre."""
    s = np.arange(0, length + 1.0)
    k = bend * (1 + 0.5 * np.cos(2 * np.pi * (s / length - rng.uniform(0, 1)))) / 1000
    heading = np.cumsum(k)
    heading -= heading.mean()
    p = np.cumsum(np.c_[np.cos(heading), np.sin(heading)], 0)
    return p - p.mean(0)


def wander(rng, n, every, size):
    knots = rng.normal(0, size, int(n / every) + 4).astype(np.float32)
    x = np.linspace(0, len(knots) - 2.001, n)
    return cv2.remap(
        knots[None],
        (x + 0.5)[None].astype(np.float32),
        np.zeros((1, n), np.float32),
        cv2.INTER_CUBIC,
    )[0]


def render(
    seed,
    hard=Hardness(),
    length=4000.0,
    width=380.0,
    pixels=(4000, 3000),
    cards=6,
    bend=None,
    card_place="slab",
):
    rng = np.random.default_rng(seed)
    bend = rng.uniform(-0.25, 0.25) if bend is None else bend
    pith = curve(rng, length, bend)
    n = len(pith)
    tangent = np.gradient(pith, axis=0)
    tangent /= np.hypot(*tangent.T)[:, None]
    normal = np.c_[-tangent[:, 1], tangent[:, 0]]
    taper = 1.08 - 0.16 * np.linspace(0, 1, n)
    half = width / 2 * taper
    left = half + wander(rng, n, 400, 9) + wander(rng, n, 130, 4)
    right = half + wander(rng, n, 400, 9) + wander(rng, n, 130, 4)
    bark = [np.maximum(0, hard.bark * (9 + wander(rng, n, 90, 4))) for _ in "lr"]
    sap = [np.maximum(4, 22 + wander(rng, n, 500, 5)) * (hard.sap > 0) for _ in "lr"]
    skew = rng.uniform(-25, 25, 2)

    def ring(to_left, to_right):
        m = np.linspace(0, n - 1, int(length / 20)).astype(int)
        lean = np.linspace(skew[0], skew[1], len(m))
        a, b = np.clip(m - lean, 0, n - 1).astype(int), np.clip(m + lean, 0, n - 1).astype(int)
        up = pith[a] + normal[a] * to_left[a, None]
        down = pith[b] - normal[b] * to_right[b, None]
        return np.vstack([down, up[::-1]])

    face, sound = ring(left, right), ring(left - sap[0], right - sap[1])

    # the painted plane, 1 mm a pixel
    low = face.min(0) - [700, 650]
    high = face.max(0) + np.array([700.0, 650.0])
    shape = tuple(np.ceil((high - low)[::-1]).astype(int))
    canvas = _floor(rng, shape, hard)
    bare = canvas.copy()
    mask = np.zeros(shape, np.uint8)
    cv2.fillPoly(
        mask,
        [np.round((ring(left + bark[0], right + bark[1]) - low) * 16).astype(np.int32)],
        255,
        shift=4,
    )
    # a soft dark line where the slab stands on the floor
    under = cv2.GaussianBlur(np.roll(mask, (12, 8), (0, 1)), (0, 0), 18).astype(np.float32) / 255
    canvas *= (1 - 0.55 * under)[..., None]

    # slab coordinates of each pixel near it, at 2 mm, then up
    ys, xs = np.nonzero(cv2.dilate(mask, np.ones((9, 9), np.uint8)))
    y0, y1, x0, x1 = ys.min(), ys.max() + 1, xs.min(), xs.max() + 1
    gx, gy = np.meshgrid(np.arange(x0, x1 + 2, 2.0), np.arange(y0, y1 + 2, 2.0))
    points = np.c_[gx.ravel(), gy.ravel()] + low
    tree = cKDTree(pith)
    _, near = tree.query(points)
    off = points - pith[near]
    s2 = (near + (off * tangent[near]).sum(1)).reshape(gx.shape).astype(np.float32)
    v2 = (off * normal[near]).sum(1).reshape(gx.shape).astype(np.float32)
    size = (x1 - x0, y1 - y0)
    mx, my = np.meshgrid(
        np.arange(size[0], dtype=np.float32) / 2, np.arange(size[1], dtype=np.float32) / 2
    )
    s = cv2.remap(s2, mx, my, cv2.INTER_LINEAR)
    v = cv2.remap(v2, mx, my, cv2.INTER_LINEAR)

    knots, knot_list = [], []
    for _ in range(rng.poisson(hard.knots)):
        a = float(np.clip(8 + rng.gamma(2.5, 5), 8, 42))
        sk, vk = rng.uniform(0.05, 0.95) * n, rng.uniform(-0.75, 0.75) * width / 2
        if all(np.hypot(sk - k[0], vk - k[1]) > 2.5 * (a + k[2]) for k in knots):
            knots.append((sk, vk, 1.2 * a, a))
    phi, inside_knot, radius = v.copy(), np.zeros(v.shape, bool), np.full(v.shape, 9.0, np.float32)
    for sk, vk, along, across in knots:
        window = np.abs(s - sk) < 6 * along
        ds, dv = s[window] - sk, phi[window] - vk
        g = np.exp(-((ds / (1.6 * along)) ** 2))
        phi[window] = vk + np.sign(dv) * np.sqrt(np.maximum(dv**2 - across**2 * g, 0))
        r = np.hypot((s - sk) / along, (v - vk) / across)
        inside_knot |= r < 1
        radius = np.minimum(radius, r)
        i = int(np.clip(sk, 0, n - 1))
        x, y = pith[i] + normal[i] * vk
        knot_list.append((float(x), float(y), along, across))

    # wood: rings by phi, fibres along the grain, slow change along the tree
    period = rng.uniform(3.0, 6.0)
    warp = value_noise(rng, (400, 64), (60, 16), 3)
    swing = cv2.remap(
        warp,
        np.clip((phi + 400) / 800 * 62, 0, 62).astype(np.float32),
        np.clip(s / n * 398, 0, 398).astype(np.float32),
        cv2.INTER_CUBIC,
    )
    phase = (phi + 1.3 * swing * period) / period
    table = cv2.GaussianBlur(rng.normal(0, 1, (1, 4096)).astype(np.float32), (0, 0), 1.2)[0]
    ringed = np.interp(phase * 4 + 2048, np.arange(4096), table).astype(np.float32)
    fibre_grid = rng.normal(0, 1, (700, 900)).astype(np.float32)
    fibres = cv2.remap(
        fibre_grid,
        ((s / 14) % 899).astype(np.float32),
        ((phi * 1.1 + 330) % 699).astype(np.float32),
        cv2.INTER_LINEAR,
    )
    tone = 1 + 0.10 * ringed / max(ringed.std(), 1e-6) + 0.045 * fibres
    tone *= 1 + 0.05 * value_noise(rng, v.shape, (160, 420), 2)
    heart, pale = colour(166, 128, 88), colour(205, 178, 138)
    heart = heart * np.float32(rng.uniform(0.85, 1.12))
    lw, rw = np.interp(s, np.arange(n), left), np.interp(s, np.arange(n), right)
    sl, sr = np.interp(s, np.arange(n), sap[0]), np.interp(s, np.arange(n), sap[1])
    in_sap = 1 / (1 + np.exp(-np.maximum(v - (lw - sl), -v - (rw - sr)) / 1.2))
    in_sap = (in_sap * hard.sap).astype(np.float32)[..., None]
    wood = (heart * (1 - in_sap) + pale * in_sap) * tone[..., None]
    if knots:
        dark = colour(84, 54, 34)
        core = 1 / (1 + np.exp((radius - 1) * 9))
        rings = 1 + 0.14 * np.sin(radius * 16)
        wood = wood * (1 - core[..., None]) + (dark * rings[..., None]) * core[..., None]
        halo = np.exp(-np.maximum(radius - 1, 0) * 3) * (radius >= 1)
        wood *= (1 - 0.25 * halo)[..., None]
    checks = []
    for _ in range(rng.poisson(0.8)):
        long, vk = rng.uniform(120, 400), rng.uniform(-0.6, 0.6) * width / 2
        start = 8.0 if rng.random() < 0.5 else n - 8 - long
        at = (s > start) & (s < start + long)
        gape = np.maximum(1.6 * (1 - 0.7 * (s - start) / long), 0.3)
        crack = np.exp(-(((phi - vk) / gape) ** 4)) * at
        wood *= (1 - 0.85 * crack)[..., None]
        m = np.arange(start, start + long, 10).astype(int)
        checks.append(pith[m] + normal[m] * vk)
    bark_tone = 0.75 + 0.35 * value_noise(rng, v.shape, (9, 14), 3)
    bark_colour = colour(70, 58, 48) * np.clip(bark_tone, 0.25, 2)[..., None]
    out_l, out_r = v - lw, -v - rw
    is_bark = (1 / (1 + np.exp(-np.maximum(out_l, out_r) / 0.8))).astype(np.float32)[..., None]
    slab = wood * (1 - is_bark) + bark_colour * is_bark
    soft = cv2.GaussianBlur(mask, (0, 0), 0.7)[y0:y1, x0:x1].astype(np.float32)[..., None] / 255
    canvas[y0:y1, x0:x1] = canvas[y0:y1, x0:x1] * (1 - soft) + slab * soft

    # truth of the grain on a 10 mm grid: along the level lines of phi
    smooth = cv2.GaussianBlur(phi, (0, 0), 2.0)
    gyv, gxv = np.gradient(smooth)
    truth = np.degrees(np.arctan2(-gxv, gyv))  # image rows run along +y here
    inner = cv2.erode((mask[y0:y1, x0:x1] > 0).astype(np.uint8), np.ones((31, 31)))
    good = (inner > 0) & ~inside_knot & (radius > 1.15)

    placed = _cards(
        rng, canvas, low, pith, normal, half, n, cards, knots, good, (x0, y0), card_place
    )
    step = 10
    grain = np.where(good, truth, np.nan)[::step, ::step]

    if hard.shadow > 0:
        light = _shadow(rng, shape, hard.shadow)[..., None]
        canvas *= light
        bare *= light
    image, to_pixel, lens = _camera(rng, canvas, bare, low, face, hard, pixels)
    return Scene(
        image,
        face,
        sound,
        knot_list,
        checks,
        placed,
        low + np.array([x0, y0]),
        float(step),
        grain,
        to_pixel,
        lens,
    )


def _floor(rng, shape, hard):
    h, w = shape
    base = np.empty((h, w, 3), np.float32)
    if hard.floor == "boards":
        tones = (150, 118, 84) if hard.like_wood else (120, 112, 104)
        base[:] = colour(*tones)
        grain = value_noise(rng, (h, w), (5, 240), 3)
        base *= np.clip(1 + 0.13 * grain, 0.3, 2)[..., None]
        for y in range(int(rng.uniform(0, 140)), h, 140):
            base[y : y + 4] *= 0.35
    elif hard.floor == "grass":
        base[:] = colour(88, 104, 62)
        base *= np.clip(1 + 0.45 * value_noise(rng, (h, w), (9, 9), 3), 0.15, 3)[..., None]
    else:
        base[:] = colour(148, 146, 141)
        base *= np.clip(1 + 0.07 * value_noise(rng, (h, w), (90, 90), 4), 0.3, 2)[..., None]
    for _ in range(rng.poisson(45 * hard.clutter)):
        c = rng.uniform(0, 1, 2) * [w, h]
        t = np.sort(rng.uniform(0, 2 * np.pi, rng.integers(3, 8)))
        r = rng.uniform(8, 110) * rng.uniform(0.3, 1, len(t))
        p = np.c_[c[0] + r * np.cos(t) * rng.uniform(0.3, 3), c[1] + r * np.sin(t)]
        kind = [(196, 162, 116), (92, 78, 66), (60, 66, 74), (176, 60, 48)][rng.integers(4)]
        cv2.fillPoly(base, [np.round(p).astype(np.int32)], tuple(map(float, colour(*kind))))
    if rng.random() < 0.7:  # bearers across
        for x in rng.uniform(0.15, 0.85, 2) * w:
            cv2.rectangle(
                base, (int(x), 0), (int(x + 110), h), tuple(map(float, colour(126, 104, 78))), -1
            )
    return base


def _cards(rng, canvas, low, pith, normal, half, n, count, knots, good, corner, place):
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    placed = {}
    for k in range(count):
        share = (k + 0.5) / count
        for _try in range(40):
            i = int(np.clip((share + rng.uniform(-0.06, 0.06)) * n, 90, n - 90))
            v = rng.uniform(-0.5, 0.5) * max(half[i] - 85, 0)
            if place == "beside":
                v = (half[i] + 160) * (1 if k % 2 else -1)
            if all(np.hypot(i - s, v - u) > 85 + a for s, u, a, _ in knots):
                break
        centre = pith[i] + normal[i] * v
        t = rng.uniform(0, 2 * np.pi)
        turn = np.array([[np.cos(t), -np.sin(t)], [np.sin(t), np.cos(t)]])
        side = 240
        card = np.full((side, side, 3), 0.82, np.float32)
        bits = cv2.aruco.generateImageMarker(dictionary, k, 6).astype(np.float32) / 255
        big = cv2.resize(bits, (200, 200), interpolation=cv2.INTER_NEAREST)
        card[20:220, 20:220] = (0.035 + 0.785 * big)[..., None]
        # half a millimetre a pixel; the picture's y runs down the card, the plane's y up
        corners = np.array([[-60, -60], [60, -60], [60, 60], [-60, 60]]) * [1, -1]
        where = centre + corners @ turn.T - low
        source = np.array(
            [[-0.5, -0.5], [side - 0.5, -0.5], [side - 0.5, side - 0.5], [-0.5, side - 0.5]],
            np.float32,
        )
        form = cv2.getPerspectiveTransform(source, where.astype(np.float32))
        b0 = np.maximum(np.floor(where.min(0)).astype(int) - 2, 0)
        b1 = np.ceil(where.max(0)).astype(int) + 3
        shift = np.array([[1, 0, -b0[0]], [0, 1, -b0[1]], [0, 0, 1.0]])
        # drawn four times finer and averaged, so that its edges lie where they are said to
        fine = np.diag([4.0, 4.0, 1.0])
        fine[:2, 2] = 1.5
        wide = tuple(((b1 - b0) * 4).tolist())
        paper = cv2.warpPerspective(
            card,
            fine @ shift @ form,
            wide,
            flags=cv2.INTER_LINEAR,
            borderValue=(-1, -1, -1),
            borderMode=cv2.BORDER_CONSTANT,
        )
        there = (paper[..., 0] >= 0).astype(np.float32)
        paper = np.maximum(paper, 0)
        a = cv2.resize(there, tuple((b1 - b0).tolist()), interpolation=cv2.INTER_AREA)[..., None]
        c = cv2.resize(
            paper * there[..., None], tuple((b1 - b0).tolist()), interpolation=cv2.INTER_AREA
        )
        spot = canvas[b0[1] : b1[1], b0[0] : b1[0]]
        spot[:] = spot * (1 - a) + c
        square = centre + (corners * 50 / 60) @ turn.T
        placed[k] = square
        ci, cj = np.round(centre - low - corner).astype(int)
        reach = 90
        good[max(0, cj - reach) : cj + reach, max(0, ci - reach) : ci + reach] = False
    return placed


def _shadow(rng, shape, strength):
    h, w = shape
    small = np.zeros((h // 4, w // 4), np.float32)
    for _ in range(2):
        a, b = rng.uniform(0, w / 4, 2)
        width = rng.uniform(60, 300)
        p = np.array([[a, 0], [a + width, 0], [b + width, h / 4], [b, h / 4]])
        cv2.fillPoly(small, [np.round(p).astype(np.int32)], 1.0)
    soft = cv2.GaussianBlur(small, (0, 0), rng.uniform(1, 8))
    light = 1 + 0.18 * np.linspace(-1, 1, w)[None] * rng.choice([-1, 1])
    return (1 - 0.55 * strength * cv2.resize(soft, (w, h))) * light.astype(np.float32)


def _camera(rng, canvas, bare, low, face, hard, pixels):
    w, h = pixels
    focal = 0.80 * w
    span = np.ptp(face, axis=0)
    away = max(span[0] / (w / focal), span[1] / (h / focal)) * rng.uniform(1.12, 1.22)
    tilt = np.radians(hard.tilt * rng.uniform(8, 34))
    roll = np.radians(rng.uniform(-8, 8))
    heading = np.radians(rng.uniform(-6, 6))
    aim = (face.max(0) + face.min(0)) / 2 + rng.uniform(-60, 60, 2)
    # plane: x right, y up the picture; the camera looks down and a little forward
    ex = np.array([np.cos(heading), np.sin(heading), 0.0])
    back = np.array([-np.sin(heading), np.cos(heading), 0.0])
    look = np.cos(tilt) * np.array([0, 0, -1.0]) + np.sin(tilt) * back
    down = np.cross(look, ex)
    rows = np.array([ex, down, look])
    c, q = np.cos(roll), np.sin(roll)
    rows = np.array([[c, q, 0], [-q, c, 0], [0, 0, 1]]) @ rows
    eye = np.array([*aim, 0.0]) - away * look
    intrinsic = np.array([[focal, 0, (w - 1) / 2], [0, focal, (h - 1) / 2], [0, 0, 1]])
    to_pixel = intrinsic @ np.c_[rows[:, 0], rows[:, 1], -rows @ eye]
    k1 = hard.lens * rng.uniform(-0.10, 0.06)
    lens = (float(k1), 0.0, float(focal))
    # pull: for each pixel undo the lens, then the plane
    gx, gy = np.meshgrid(np.arange(w, dtype=np.float32), np.arange(h, dtype=np.float32))
    dx, dy = (gx - (w - 1) / 2) / focal, (gy - (h - 1) / 2) / focal
    ux, uy = dx.copy(), dy.copy()
    for _ in range(8):
        r = ux * ux + uy * uy
        ux, uy = dx / (1 + k1 * r), dy / (1 + k1 * r)
    inverse = np.linalg.inv(to_pixel)
    px, py = ux * focal + (w - 1) / 2, uy * focal + (h - 1) / 2
    d = inverse[2, 0] * px + inverse[2, 1] * py + inverse[2, 2]
    mx = (inverse[0, 0] * px + inverse[0, 1] * py + inverse[0, 2]) / d - low[0]
    my = (inverse[1, 0] * px + inverse[1, 1] * py + inverse[1, 2]) / d - low[1]
    # where a pixel holds more than a millimetre, blur the canvas first so that nothing aliases
    view = cv2.remap(
        cv2.GaussianBlur(canvas, (0, 0), 0.55),
        mx.astype(np.float32),
        my.astype(np.float32),
        cv2.INTER_LINEAR,
    )
    within = (mx >= 0) & (my >= 0) & (mx < canvas.shape[1] - 1) & (my < canvas.shape[0] - 1)
    mx, my = mx.astype(np.float32), my.astype(np.float32)
    beyond = cv2.remap(bare, mx, my, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    view = np.where(within[..., None], view, beyond)
    view = cv2.GaussianBlur(view, (0, 0), rng.uniform(0.6, 1.2))
    r = dx * dx + dy * dy
    view *= (1 / (1 + 0.25 * r))[..., None]  # darker to the corners
    view *= rng.uniform(0.85, 1.1)
    view *= np.array([rng.uniform(0.92, 1.06), 1.0, rng.uniform(0.95, 1.08)], np.float32)
    view += rng.normal(0, 0.004, view.shape).astype(np.float32) * np.sqrt(
        np.maximum(view, 0.01) / 0.2
    )
    coded = np.clip(srgb(np.clip(view, 0, 1)) * 255, 0, 255).astype(np.uint8)
    ok, packed = cv2.imencode(".jpg", coded, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(86, 95))])
    assert ok
    return cv2.imdecode(packed, cv2.IMREAD_COLOR), to_pixel, lens
