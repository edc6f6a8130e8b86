"""Compiled: a proof, by branch and bound, that a timber fits a slab nowhere.

A box of poses (x, y, angle) is struck out when at its middle some disc of the timber lies so far
on unsound wood, or some grain sample so far off the grain, that no pose of the box can mend it:
distances change no faster than points move, and the grain is bounded over all that a sample can
reach. Boxes that cannot be struck out are halved until they are a few millimetres; what is left
then counts as fitting. So the answer 'nowhere' is certain, and 'perhaps' claims nothing.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from futtock.layout.discs import compiled
from futtock.layout.feel import CELL, HALF
from futtock.layout.ground import Ground
from futtock.layout.pattern import Patterns

Array = NDArray[np.float64]
Raster = NDArray[np.float32]

OUTSIDE = -10.0  # no point off the raster is nearer to sound wood than its margin
NODE_MM = 3.54  # half a cell's diagonal
TRUE_MM = 0.7  # by which a pattern's disc may be larger than the outline allows
LEAST_DISC_MM = 12.0
LEVELS_MM = (10.0, 20.0, 40.0, 80.0)


@compiled
def nowhere(
    P: Patterns,
    G: Ground,
    k: int,
    i: int,
    low: Raster,
    high: Raster,
    guard: float,
    most: int,
) -> tuple[int, int]:
    """Whether pattern i fits slab k nowhere: (1 proven, 0 perhaps), and boxes looked at.

    ``low``, ``high`` (levels, rows, columns): least and greatest grain within each of LEVELS_MM of
    a node. ``guard`` was taken off the distances of G. Gives up after ``most`` boxes.
    """
    o, rows, columns = G.off[k], G.rows[k], G.columns[k]
    wide, deep = (columns - 1) / CELL, (rows - 1) / CELL
    d0, d1 = P.disc_off[i], min(P.disc_off[i + 1], P.disc_off[i] + 40)
    g0, g1 = P.grain_off[i], P.grain_off[i + 1]
    far = 1.0
    for g in range(g0, g1):
        far = max(far, np.sqrt(P.grain[g, 0] ** 2 + P.grain[g, 1] ** 2))
    cap = 4096
    stack = np.empty((cap, 6))
    n = 0
    looked = 0
    side = 30.0
    swing0 = min(0.2, 30.0 / far)
    turns = int(np.ceil(3.141592653589793 / swing0))
    swing0 = 3.141592653589793 / turns
    nx, ny = int(np.ceil(wide / (2 * side))), int(np.ceil(deep / (2 * side)))
    for over in range(2):
        sy = 1.0 if over == 0 else -1.0
        for ix in range(nx):
            for iy in range(ny):
                for it in range(turns):
                    stack[0, 0] = (2 * ix + 1) * side
                    stack[0, 1] = (2 * iy + 1) * side
                    stack[0, 2] = (2 * it + 1) * swing0
                    stack[0, 3] = side
                    stack[0, 4] = swing0
                    n = 1
                    while n > 0:
                        n -= 1
                        cx, cy, ca = stack[n, 0], stack[n, 1], stack[n, 2]
                        h, w = stack[n, 3], stack[n, 4]
                        looked += 1
                        if looked > most:
                            return 0, looked
                        c, s = np.cos(ca), np.sin(ca)
                        out = False
                        for g in range(g0, g1):
                            u, v = P.grain[g, 0], sy * P.grain[g, 1]
                            x, y = cx + c * u - s * v, cy + s * u + c * v
                            move = 1.4143 * h + w * np.sqrt(u * u + v * v)
                            r, q = int(y * CELL + 0.5), int(x * CELL + 0.5)
                            if x < 0.0 or y < 0.0 or r >= rows or q >= columns:
                                off = max(max(-x, -y), max(x - wide, y - deep))
                                if off > move:
                                    out = True
                                    break
                                continue
                            a = o + r * columns + q
                            if max(G.top[a], G.bottom[a]) + guard + NODE_MM + move < 0.0:
                                out = True
                                break
                            level = 0
                            while level < 4 and LEVELS_MM[level] < move + NODE_MM:
                                level += 1
                            if level == 4:
                                continue
                            own = ca + sy * P.grain[g, 2]
                            a0 = low[level, r, q] - own - w - P.grain[g, 3]
                            a1 = high[level, r, q] - own + w + P.grain[g, 3]
                            # is some whole multiple of pi in [a0, a1]?
                            if np.floor(a1 / (2.0 * HALF)) * 2.0 * HALF < a0:
                                out = True
                                break
                        if out:
                            continue
                        for d in range(d0, d1):
                            need = P.disc[d, 2] - TRUE_MM
                            if P.disc[d, 2] < LEAST_DISC_MM:
                                continue
                            u, v = P.disc[d, 0], sy * P.disc[d, 1]
                            x, y = cx + c * u - s * v, cy + s * u + c * v
                            move = 1.4143 * h + w * np.sqrt(u * u + v * v)
                            face = P.disc[d, 3]
                            r, q = int(y * CELL + 0.5), int(x * CELL + 0.5)
                            if x < 0.0 or y < 0.0 or r >= rows or q >= columns:
                                room = OUTSIDE
                            else:
                                a = o + r * columns + q
                                up = G.top[a] if over == 0 else G.bottom[a]
                                down = G.bottom[a] if over == 0 else G.top[a]
                                room = 1e9
                                if face != 1.0:
                                    room = up
                                if face != 0.0:
                                    room = min(room, down)
                                room += guard + NODE_MM
                            if room + move < need:
                                out = True
                                break
                        if out:
                            continue
                        if h < 3.0 and w * far < 4.0:
                            return 0, looked
                        if w * far > 1.4143 * h:
                            if n + 2 > cap:
                                return 0, looked
                            for b in range(2):
                                stack[n, 0], stack[n, 1] = cx, cy
                                stack[n, 2] = ca + (b - 0.5) * w
                                stack[n, 3], stack[n, 4] = h, 0.5 * w
                                n += 1
                        else:
                            if n + 4 > cap:
                                return 0, looked
                            for b in range(4):
                                stack[n, 0] = cx + (b % 2 - 0.5) * h
                                stack[n, 1] = cy + (b // 2 - 0.5) * h
                                stack[n, 2] = ca
                                stack[n, 3], stack[n, 4] = 0.5 * h, w
                                n += 1
    return 1, looked
