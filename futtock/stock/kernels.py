"""Hot loops of the rasters, compiled. Import this module where they run: numba loads slowly.

Rings and lines come flat: points (n, 2) end to end, with ``starts`` (k + 1,) bounding each.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

F = Any  # numba sees arrays; mypy sees what the callers promise


@njit(cache=True)
def signed_distance(ring: F, x0: float, y0: float, step: float, reach: float, out: F) -> None:
    """Signed distance to a ring, positive inside, exact within ``reach``, else +-reach.

    Fills ``out`` (rows, columns). The sign is by even-odd crossing along each row, so a node on
    an edge may fall either way; its distance is then nought.
    """
    rows, columns = out.shape
    out[:] = reach * reach
    n = len(ring)
    for k in range(n):
        ax, ay = ring[k, 0], ring[k, 1]
        bx, by = ring[(k + 1) % n, 0], ring[(k + 1) % n, 1]
        dx, dy = bx - ax, by - ay
        ll = dx * dx + dy * dy
        c0 = max(0, int(np.floor((min(ax, bx) - reach - x0) / step)))
        c1 = min(columns - 1, int(np.ceil((max(ax, bx) + reach - x0) / step)))
        r0 = max(0, int(np.floor((min(ay, by) - reach - y0) / step)))
        r1 = min(rows - 1, int(np.ceil((max(ay, by) + reach - y0) / step)))
        for r in range(r0, r1 + 1):
            y = y0 + r * step
            for c in range(c0, c1 + 1):
                x = x0 + c * step
                t = 0.0
                if ll > 0.0:
                    t = ((x - ax) * dx + (y - ay) * dy) / ll
                    t = min(1.0, max(0.0, t))
                ex, ey = x - ax - t * dx, y - ay - t * dy
                d = ex * ex + ey * ey
                if d < out[r, c]:
                    out[r, c] = d
    cuts = np.empty(n)
    for r in range(rows):
        y = y0 + r * step
        m = 0
        for k in range(n):
            ay, by = ring[k, 1], ring[(k + 1) % n, 1]
            if (ay > y) != (by > y):
                ax, bx = ring[k, 0], ring[(k + 1) % n, 0]
                cuts[m] = ax + (y - ay) / (by - ay) * (bx - ax)
                m += 1
        row = np.sort(cuts[:m])
        i = 0
        for c in range(columns):
            x = x0 + c * step
            while i < m and row[i] <= x:
                i += 1
            d = np.sqrt(out[r, c])
            out[r, c] = d if i % 2 == 1 else -d


@njit(cache=True)
def line_directions(
    points: F, lines: F, starts: F, near: float, cos2: F, sin2: F, nearest: F
) -> None:
    """Direction at points (n, 2) from traced lines, as the doubled angle's cosine and sine.

    On a line the direction is its own: chords hold at their middles and are blended by distance
    along the line between them. Between lines each counts by 1 / (distance^2 + near^2).
    ``nearest`` (n,) gets the distance to the nearest line.
    """
    for p in range(len(points)):
        x, y = points[p, 0], points[p, 1]
        sc, ss, best = 0.0, 0.0, 1e300
        for k in range(len(starts) - 1):
            a, b = starts[k], starts[k + 1] - 1
            d_line, c_line, s_line = 1e300, 1.0, 0.0
            for i in range(a, b):
                dx, dy = lines[i + 1, 0] - lines[i, 0], lines[i + 1, 1] - lines[i, 1]
                ll = dx * dx + dy * dy
                if ll <= 0.0:
                    continue
                t = ((x - lines[i, 0]) * dx + (y - lines[i, 1]) * dy) / ll
                t = min(1.0, max(0.0, t))
                ex, ey = x - lines[i, 0] - t * dx, y - lines[i, 1] - t * dy
                d = ex * ex + ey * ey
                if d >= d_line:
                    continue
                d_line = d
                c_line, s_line = (dx * dx - dy * dy) / ll, 2.0 * dx * dy / ll
                j = i - 1 if t < 0.5 else i + 1
                if a <= j < b:
                    jx, jy = lines[j + 1, 0] - lines[j, 0], lines[j + 1, 1] - lines[j, 1]
                    jj = jx * jx + jy * jy
                    if jj > 0.0:
                        li, lj = np.sqrt(ll), np.sqrt(jj)
                        w = abs(t - 0.5) * li / (0.5 * (li + lj))
                        c_line = (1.0 - w) * c_line + w * (jx * jx - jy * jy) / jj
                        s_line = (1.0 - w) * s_line + w * 2.0 * jx * jy / jj
            size = np.sqrt(c_line * c_line + s_line * s_line)
            if d_line < 1e300 and size > 1e-9:
                w = 1.0 / (d_line + near * near)
                sc += w * c_line / size
                ss += w * s_line / size
                best = min(best, d_line)
        size = np.sqrt(sc * sc + ss * ss)
        if size > 0.0:
            sc, ss = sc / size, ss / size
        else:
            sc, ss = 1.0, 0.0
        cos2[p], sin2[p], nearest[p] = sc, ss, np.sqrt(best)
