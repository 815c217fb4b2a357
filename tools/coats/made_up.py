#!/usr/bin/env python3
"""Markings seen from above, made up without a renderer: a second world for the coat reader to learn from.

    made_up.py OUT --count N [--seed S]      files like those of coat_examples; needs numpy alone

Every process has several ways to run and every number a wide range, wider than pavement and paint show: what holds in all
of them (a coat has one level, its own edges and its own wear; light goes on over the outline) is what shall be learned.
"""
import argparse
import math
import os

import numpy as np

MM = 1.5            # of the ground raster
VIEW = 3.0          # of what is written; twice that where the photo is coarse
COARSE = 0.3        # of the markings
DARK, LIGHTEST = -3.5, 0.7
LUMA = np.array([[16, 11, 10, 16, 24, 40, 51, 61], [12, 12, 14, 19, 26, 58, 60, 55], [14, 13, 16, 24, 40, 57, 69, 56],
                 [14, 17, 22, 29, 51, 87, 80, 62], [18, 22, 37, 56, 68, 109, 103, 77], [24, 35, 55, 64, 81, 104, 113, 92],
                 [49, 64, 78, 87, 103, 121, 120, 101], [72, 92, 95, 98, 112, 100, 103, 99]], float)  # ITU-T T.81, table K.1
DCT = np.array([[math.sqrt((1 if u == 0 else 2) / 8) * math.cos((2 * x + 1) * u * math.pi / 16) for x in range(8)] for u in range(8)])


def resample(length, cells, offset):
    """Rows of cubic (Catmull-Rom) weights that read `cells` + 4 knots at `length` places."""
    at = np.arange(length) * (cells / max(1, length)) + offset
    k = np.floor(at).astype(int)
    t = at - k
    w = np.zeros((length, cells + 5), np.float32)
    rows = np.arange(length)
    for j, c in enumerate((-0.5 * t + t**2 - 0.5 * t**3, 1 - 2.5 * t**2 + 1.5 * t**3, 0.5 * t + 2 * t**2 - 1.5 * t**3, -0.5 * t**2 + 0.5 * t**3)):
        np.add.at(w, (rows, k + j), c.astype(np.float32))
    return w


class Maker:
    def __init__(self, random, wide, high):
        self.r = random
        self.shape = (int(high / MM) // 2 * 2, int(wide / MM) // 2 * 2)

    def u(self, low, high):
        return float(self.r.uniform(low, high))

    def log(self, low, high):
        return math.exp(self.u(math.log(low), math.log(high)))

    def chance(self, p):
        return self.r.random() < p

    def noise(self, mm, across=None):
        """Zero mean, unit spread, blobs of about `mm` (by `across` the other way)."""
        h, w = self.shape
        nr, nc = max(2, int(h * MM / (across or mm))), max(2, int(w * MM / mm))
        if nr >= h and nc >= w:
            return self.r.standard_normal(self.shape).astype(np.float32)
        knots = self.r.standard_normal((nr + 5, nc + 5)).astype(np.float32)
        made = resample(h, nr, self.u(0, 1)) @ knots @ resample(w, nc, self.u(0, 1)).T
        return (made - made.mean()) / max(1e-6, made.std())

    def rough(self, mm, octaves=3, fall=0.6):
        made = sum(fall**k * self.noise(max(1.2 * MM, mm / 2.1**k)) for k in range(octaves))
        return made / max(1e-6, made.std())

    def warp(self, mm):
        h, w = self.shape
        y, x = np.mgrid[0:h, 0:w].astype(np.float32) * MM
        if self.chance(0.7):
            far, scale = mm * self.u(0.05, 0.5), mm * self.u(0.3, 2)
            y, x = y + far * self.noise(scale), x + far * self.noise(scale)
        return y, x

    def cells(self, mm):
        """Nearest of jittered points: distance to the wall between two cells (mm), and two numbers of each cell."""
        y, x = self.warp(mm)
        stretch = self.log(0.5, 2) if self.chance(0.3) else 1
        y, x = y / mm, x / mm * stretch
        y, x = y - y.min() + 1, x - x.min() + 1
        rows, cols = int(y.max()) + 3, int(x.max()) + 3
        jitter = self.u(0.25, 0.5)
        py, px = (self.r.uniform(0.5 - jitter, 0.5 + jitter, (rows, cols)).astype(np.float32) for _ in range(2))
        value = self.r.standard_normal((2, rows, cols)).astype(np.float32)
        iy, ix = y.astype(int), x.astype(int)
        best, second = np.full(self.shape, 1e9, np.float32), np.full(self.shape, 1e9, np.float32)
        mine = np.zeros(self.shape, int)
        for dr in (-1, 0, 1):
            for dc in (-1, 0, 1):
                r, c = np.clip(iy + dr, 0, rows - 1), np.clip(ix + dc, 0, cols - 1)
                d = np.hypot(r + py[r, c] - y, c + px[r, c] - x)
                closer = d < best
                second = np.where(closer, best, np.minimum(second, d))
                mine = np.where(closer, r * cols + c, mine)
                best = np.where(closer, d, best)
        return (second - best) * mm / 2, value[0].ravel()[mine], value[1].ravel()[mine]

    def cut(self, field, mask, share):
        """The level above which `share` of the mask lies."""
        values = field[mask]
        return float(np.quantile(values[:: max(1, len(values) // 20000)], 1 - min(1, max(0, share)))) if len(values) else 0.0

    # What the marking is: mm inside its outline.

    def outline(self):
        h, w = self.shape
        y, x = np.mgrid[0:h:2, 0:w:2].astype(np.float32) * MM
        wide, high = w * MM, h * MM
        what = self.r.choice(["bar", "bar", "bars", "polygon", "strokes", "ring"])
        margin = self.u(45, 90)

        def box(cy, cx, hy, hx, turn):
            c, s = math.cos(turn), math.sin(turn)
            dx, dy = np.abs((x - cx) * c + (y - cy) * s) - hx, np.abs(-(x - cx) * s + (y - cy) * c) - hy
            return -(np.hypot(np.maximum(dx, 0), np.maximum(dy, 0)) + np.minimum(np.maximum(dx, dy), 0))
        if what == "bar":
            d = box(high / 2, wide / 2, high / 2 - margin, wide / 2 - margin, 0)
        elif what == "bars":
            n, turn, thick = self.r.integers(2, 6), self.u(0, math.pi), self.u(40, 80)
            d = np.full_like(x, -1e3)
            for k in range(n):
                d = np.maximum(d, box(high * (k + 0.5) / n if high > wide else high / 2, wide * (k + 0.5) / n if wide >= high else wide / 2,
                                      thick, self.u(0.3, 0.6) * max(wide, high), turn))
            d = np.minimum(d, box(high / 2, wide / 2, high / 2 - margin, wide / 2 - margin, 0))
        elif what == "polygon":
            n = self.r.integers(3, 9)
            angle = np.sort(self.r.uniform(0, 2 * math.pi, n))
            px = wide / 2 + (wide / 2 - margin) * np.cos(angle) * self.r.uniform(0.5, 1, n)
            py = high / 2 + (high / 2 - margin) * np.sin(angle) * self.r.uniform(0.5, 1, n)
            d, inside = np.full_like(x, 1e9), np.zeros(x.shape, bool)
            for k in range(n):
                ax, ay, bx, by = px[k], py[k], px[k - 1], py[k - 1]
                t = np.clip(((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / max(1e-6, (bx - ax)**2 + (by - ay)**2), 0, 1)
                d = np.minimum(d, np.hypot(x - ax - t * (bx - ax), y - ay - t * (by - ay)))
                inside ^= ((ay > y) != (by > y)) & (x < (bx - ax) * (y - ay) / (by - ay + 1e-9) + ax)
            d = np.where(inside, d, -d)
        elif what == "strokes":
            d, thick = np.full_like(x, -1e3), self.u(35, 70)
            for _ in range(self.r.integers(2, 6)):
                across = self.chance(0.5)
                d = np.maximum(d, box(self.u(0.25, 0.75) * high, self.u(0.25, 0.75) * wide, thick if across else self.u(0.2, 0.45) * high,
                                      self.u(0.2, 0.45) * wide if across else thick, self.u(-0.3, 0.3) if self.chance(0.3) else 0))
        else:
            radius, thick = min(wide, high) / 2 - margin, self.u(40, 80)
            d = np.minimum(radius - np.hypot(x - wide / 2, y - high / 2), 1e3)
            d = np.minimum(d, np.hypot(x - wide / 2, y - high / 2) - radius + 2 * thick) if radius > 3 * thick else d
            d = np.maximum(d, box(high / 2, wide / 2, thick, radius, self.u(0, 3)))
        return d.astype(np.float32)

    # What can befall a coat: each returns how much of it is gone, 0 to 1.

    def abrasion(self, mask, height, share):
        score = self.u(0.2, 1.5) * height + self.u(0, 1.2) * self.noise(self.log(80, 500)) + self.u(0, 0.6) * self.rough(self.log(10, 80), 2) \
            + self.u(0, 0.5) * self.noise(self.log(1.5, 8))
        return np.clip(0.5 + (score - self.cut(score, mask, share)) / self.log(0.03, 0.8), 0, 1)

    def chips(self, mask, share):
        how = self.r.choice(["cells", "blobs", "polygons", "peel"])
        if how == "cells":
            score = 0
            for mm in [self.log(6, 70) for _ in range(self.r.integers(1, 3))]:
                _, value, _ = self.cells(mm)
                score = score + value
            score = score + self.u(0, 2) * self.noise(self.log(60, 500))
            gone = score > self.cut(score, mask, share)
        elif how == "blobs":
            score = self.rough(self.log(6, 120), self.r.integers(1, 4), self.u(0.2, 0.7)) + self.u(0, 1) * self.noise(self.log(100, 500))
            gone = score > self.cut(score, mask, share)
        elif how == "peel":
            score = self.rough(self.log(120, 500), 4, self.u(0.2, 0.5))
            gone = score > self.cut(score, mask, share)
        else:
            h, w = self.shape
            gone, area = np.zeros(self.shape, bool), max(1, mask.sum())
            cy, cx, near = self.u(0, h), self.u(0, w), self.u(0, 1)
            spread = self.log(60, 300) / MM
            least, most = self.log(3, 15), self.log(15, 60)
            for _ in range(600):
                radius = self.log(least, most) / MM
                y, x = (self.r.normal(cy, spread), self.r.normal(cx, spread)) if self.chance(near) else (self.u(0, h), self.u(0, w))
                y, x = min(max(y, 0), h - 1), min(max(x, 0), w - 1)
                a, b = max(0, int(y - 2 * radius)), max(0, int(x - 2 * radius))
                yy, xx = np.mgrid[a:min(h, int(y + 2 * radius) + 1), b:min(w, int(x + 2 * radius) + 1)]
                if yy.size == 0:
                    continue
                part = np.ones(yy.shape, bool)
                for k in range(self.r.integers(4, 9)):
                    angle = self.u(0, 2 * math.pi)
                    part &= (xx - x) * math.cos(angle) + (yy - y) * math.sin(angle) < radius * self.u(0.5, 1.1)
                gone[a:a + part.shape[0], b:b + part.shape[1]] |= part
                if (gone & mask).sum() > share * area:
                    break
        return gone.astype(np.float32)

    def cracks(self):
        if self.chance(0.5):
            wall, _, value = self.cells(self.log(40, 300))
            return ((wall < self.log(0.7, 3)) & (value > self.u(-2, 0.5))).astype(np.float32)
        n = self.rough(self.log(100, 600), 3, self.u(0.2, 0.5))
        gy, gx = np.gradient(n)
        return ((np.abs(n) < np.hypot(gy, gx) / MM * self.log(0.7, 3)) & (self.noise(300) > self.u(-2, 0.5))).astype(np.float32)

    def worn(self, mask, height, hard=1.0):
        """What is gone, and what of it flaked off."""
        gone, flaked = np.zeros(self.shape, np.float32), np.zeros(self.shape, np.float32)
        if self.chance(0.06):
            return gone, flaked
        if self.chance(0.55):
            gone = np.maximum(gone, self.abrasion(mask, height, self.u(0, 1)**1.5 * 0.95 * hard))
        if self.chance(0.55):
            flaked = self.chips(mask, self.u(0.01, 0.65) * hard)
            gone = np.maximum(gone, flaked)
        if self.chance(0.25):
            gone = np.maximum(gone, self.cracks())
        if self.chance(0.15):
            fine = self.rough(self.log(2, 7), 2)
            gone = np.maximum(gone, (fine > self.cut(fine, mask, self.u(0.01, 0.25))).astype(np.float32))
        if self.chance(0.1):
            streak = self.noise(self.log(50, 400), self.log(2, 8))
            gone = np.maximum(gone, (streak > self.cut(streak, mask, self.u(0.01, 0.3))).astype(np.float32))
        return gone, flaked

    # What is seen.

    def light(self):
        h, w = self.shape
        y, x = np.mgrid[0:h, 0:w].astype(np.float32) * MM
        sun = np.ones(self.shape, np.float32)
        how = self.r.choice(["even", "even", "even", "edge", "edges", "leaves", "leaves"])
        for _ in range(0 if how in ("even", "leaves") else 1 if how == "edge" else self.r.integers(2, 5)):
            turn, soft = self.u(0, 2 * math.pi), self.log(4, 150)
            d = (x - self.u(0, w * MM)) * math.cos(turn) + (y - self.u(0, h * MM)) * math.sin(turn)
            if self.chance(0.4):
                d = d + self.u(5, 60) * self.noise(self.log(60, 300))
            if how == "edges" and self.chance(0.5):
                d = np.abs(d) - self.log(15, 150)
            sun = np.minimum(sun, np.clip(0.5 + d / soft, 0, 1))
        if how == "leaves":
            n = self.noise(self.log(40, 200)) + 0.7 * self.noise(self.log(15, 60))
            sun = np.clip(0.5 + (n - self.u(-0.7, 0.7)) / self.log(0.1, 1.5), 0, 1)
        shade = self.u(0.12, 0.6) * np.array([1 - self.u(0, 0.25), 1, 1 + self.u(0, 0.35)])
        lit = shade + sun[..., None] * (1 - shade)
        return lit * np.exp(self.u(0, 0.08) * self.noise(500))[..., None]

    def colour(self):
        name = self.r.choice(["white", "white", "white", "yellow", "yellow", "blue", "red", "green"])
        base = dict(white=(0.72, 0.71, 0.67), yellow=(0.65, 0.42, 0.05), blue=(0.04, 0.15, 0.45), red=(0.42, 0.06, 0.05), green=(0.06, 0.3, 0.12))[name]
        return name, np.array(base) * self.u(0.65, 1.15) * self.r.uniform(0.93, 1.07, 3)

    def coat_look(self, albedo, height):
        film = self.u(0, 0.06) * self.noise(self.log(8, 60)) + self.u(0, 0.05) * self.noise(2 * MM) + self.u(0, 0.06) * self.noise(self.log(60, 400)) \
            + self.u(0, 0.06) * height
        if self.chance(0.4):  # paint lies thin on the stones' tops and shaded in their pits, and is paint there
            film = film + self.u(0.03, 0.2) * height
        if self.chance(0.25):
            film = film - self.u(0.1, 0.9) * (height < self.cut(height, np.ones(self.shape, bool), 1 - self.log(0.005, 0.08)))
        look = albedo * np.exp(film)[..., None]
        if self.chance(0.25):  # tint wanders, as old binder and dust make it
            look = look * np.exp(self.u(0, 0.06) * self.noise(self.log(40, 300))[..., None] * self.r.uniform(-1, 1, 3))
        return look

    def photo(self, seen, coarse):
        """What a camera keeps of it: pixels of its own size, blur, tone, noise, sharpening, JPEG; then light again."""
        h, w = self.shape
        py = self.log(3.5, 12) if coarse else self.log(1.5, 3.5)
        px = py * self.log(0.6, 1.0)
        ph, pw = max(16, int(h * MM / max(py, MM))), max(16, int(w * MM / max(px, MM)))
        small = area(area(seen, ph, 0), pw, 1)
        small = blurred(small, self.u(0.3, 1.6) if self.chance(0.8) else self.u(1.5, 2.5))
        bright = float(np.quantile(small, 0.97))
        v = small / max(1e-6, bright) * (self.u(0.45, 0.95) if self.chance(0.85) else self.u(0.9, 1.3))
        v = v + self.log(0.002, 0.02) * np.sqrt(np.maximum(v, 0) + 0.01) * self.r.standard_normal(v.shape)
        v = np.clip(v, 0, 1)
        e = np.where(v <= 0.0031308, 12.92 * v, 1.055 * np.maximum(v, 1e-9)**(1 / 2.4) - 0.055)
        e = e + self.u(-0.1, 0.4) * e * (1 - e) * (2 * e - 1)
        if self.chance(0.7):
            e = e + self.u(0, 0.9) * (e - blurred(e, self.u(0.8, 1.6)))
        e = jpeg(np.clip(e, 0, 1) * 255, self.r.integers(55, 98)) / 255
        v = np.where(e <= 0.04045, e / 12.92, ((np.maximum(e, 0) + 0.055) / 1.055)**2.4)
        return area(area(linear(linear(v, h, 0), w, 1), h // 2, 0), w // 2, 1)

    def marking(self, layered):
        inside = self.outline()
        h, w = self.shape
        fine = np.repeat(np.repeat(inside, 2, 0), 2, 1)
        mask = fine + self.u(0.3, 2) * self.noise(self.log(5, 60)) > 0
        if (inside > 6).sum() < 500:
            return None
        stone = self.log(3, 14)
        wall, level, tone = self.cells(stone)
        height = 0.5 * level + 1.5 * np.sqrt(np.clip(wall / (0.35 * stone), 0, 1))
        height = (height - height.mean()) / max(1e-6, height.std())
        if self.chance(0.3):
            height = self.rough(stone, 3)
        concrete = self.chance(0.3)
        base = np.array([1.0, 0.97, 0.92]) * (self.u(0.2, 0.42) if concrete else self.log(0.05, 0.22)) * self.r.uniform(0.94, 1.06, 3)
        texture = (self.u(0.03, 0.12) if concrete else self.u(0.08, 0.4)) * (tone if self.chance(0.7) else self.rough(stone, 2))
        pavement = base * np.exp(texture + self.u(0, 0.12) * self.noise(self.log(60, 500)) + self.u(0, 0.08) * self.rough(2 * MM, 1))[..., None]
        pavement = np.where(((wall < 0.06 * stone) & (not concrete))[..., None], pavement * self.u(0.3, 0.9), pavement)
        if self.chance(0.35):  # what the paint had covered has weathered less
            pavement = np.where(mask[..., None], pavement * self.log(0.7, 1.35), pavement)
        name, albedo = self.colour()
        field = self.chance(0.15)
        if field:  # the marking lies on a painted field
            layered = layered and self.chance(0.3)
            other, ground = self.colour()
            while other == name:
                other, ground = self.colour()
            pavement = pavement + (1 - self.worn(np.ones(self.shape, bool), height, self.u(0.2, 0.9))[0])[..., None] * (self.coat_look(ground, height) - pavement)
            base = ground
        if self.chance(0.35):
            albedo = albedo + self.u(0.05, 0.45) * (0.1 + base - albedo)
        gone, flaked = self.worn(mask, height)
        top = np.where(mask, 1 - gone, 0)
        look = pavement
        older = np.zeros(self.shape, np.float32)
        same = -1
        if layered:
            grey = albedo.mean() * 0.7 + 0.03
            if self.chance(0.8):
                same, dull = 1, albedo * (self.u(0.5, 0.98) if self.chance(0.85) else self.u(1.03, 1.3))
                dull = dull + self.u(0, 0.5) * (grey - dull) * (1 if self.chance(0.6) else 0)
            else:
                other, dull = self.colour()
                same = 1 if other == name else 0
            lies = mask
            if self.chance(0.3):  # the two were not laid in the same place
                far = self.r.integers(-25, 26, 2)
                lies = np.roll(mask, tuple(far), (0, 1))
            own = self.worn(lies, height, self.u(0.1, 0.9))[0] if self.chance(0.75) else np.zeros(self.shape, np.float32)
            if self.chance(0.35):
                patch = self.noise(self.log(50, 400))
                own = np.maximum(own, (patch > self.cut(patch, mask, self.u(0.1, 0.8))).astype(np.float32))
            under = np.where(lies, 1 - own, 0)
            look = look + under[..., None] * (self.coat_look(dull, height) - look)
            older = np.where(mask, np.minimum(gone, 1) * under, 0)
        elif self.chance(0.2):  # binder, dust or scratches leave chips a little lighter, and that is no coat
            film = np.clip(self.noise(self.log(20, 200)), 0, 1)[..., None] * self.u(0, 0.3)
            look = look + film * np.where(mask[..., None], albedo - look, 0) * self.u(0, 0.6)
        look = look + top[..., None] * (self.coat_look(albedo, height) - look)
        if self.chance(0.5):  # stones, painted or bare, lit from one side
            turn, relief = self.u(0, 2 * math.pi), blurred(height[..., None], self.u(0.5, 2))[..., 0]
            gy, gx = np.gradient(relief)
            lit = gx * math.cos(turn) + gy * math.sin(turn)
            look = look * np.exp(np.clip(self.log(0.03, 0.3) * lit / max(1e-6, lit.std()), -0.8, 0.5))[..., None]
        if self.chance(0.6):  # rims lit from one side
            turn, relief = self.u(0, 2 * math.pi), blurred((top + 0.6 * older)[..., None], self.u(0.5, 1.5))[..., 0]
            gy, gx = np.gradient(relief)
            look = look * np.exp(np.clip(self.u(0, 0.8) * (gx * math.cos(turn) + gy * math.sin(turn)), -0.7, 0.5))[..., None]
        if self.chance(0.4):  # soil, on the paint more than on what is dark already
            dirt = np.clip(0.5 + self.u(0.3, 2) * self.noise(self.log(40, 400)), 0, 1) * self.u(0.03, 0.5)
            mud = np.array([0.16, 0.13, 0.10]) * self.u(0.4, 1.3)
            look = look + dirt[..., None] * self.u(0.3, 1) * (mud - look)
        if self.chance(0.12):
            tyre = np.clip(0.5 + 2 * self.noise(600, self.log(60, 300)), 0, 1) * self.u(0.1, 0.5)
            look = look * (1 - tyre)[..., None]
        if self.chance(0.1):
            wet = np.clip(0.5 + 5 * self.noise(self.log(100, 500)), 0, 1)[..., None] * np.where((top + older > 0.5)[..., None], self.u(0, 0.2), self.u(0.1, 0.5))
            look = look * (1 - wet)
        coarse = self.chance(COARSE)
        seen = self.photo(np.maximum(look, 0.002) * self.light(), coarse)
        truth = np.stack([top, older, np.where(mask, flaked, 0)], -1).reshape(h // 2, 2, w // 2, 2, 3).mean((1, 3))
        known = inside + self.u(-3, 3) * (1 if self.chance(0.6) else 0)
        if self.chance(0.3):  # as outlines of worn markings are found
            known = known + self.u(1, 8) * self.noise(self.log(80, 500))[::2, ::2]
        if self.chance(0.3):
            known = np.roll(known, tuple(self.r.integers(-1, 2, 2)), (0, 1))
        if coarse:  # seen as coarsely as the photo shows it
            truth, seen, known = (halved(a) for a in (truth, seen, known))
        core = known > self.u(5, 10) * (2 if coarse else 1)
        paint = brightest(seen, core)
        if paint is None:
            return None
        if self.chance(0.2):  # the photo ends within the marking
            (h, w), turn = known.shape, self.u(0, 2 * math.pi)
            y, x = np.mgrid[0:h, 0:w]
            beyond = (x - w / 2) * math.cos(turn) + (y - h / 2) * math.sin(turn) > self.u(0.1, 0.5) * w
            known = np.where(beyond, -20, known)
            seen = np.where(beyond[..., None], 0, seen)
        x = np.clip(np.log(seen / paint + 0.02), DARK, LIGHTEST)
        depth = np.where(known > 0, np.clip(known / 20, -1, 1), np.clip(np.minimum(known / 20, -0.05), -1, 1))
        return np.concatenate([x, depth[..., None]], -1), truth, same, VIEW * (2 if coarse else 1)


def halved(picture):
    h, w = picture.shape[0] // 2, picture.shape[1] // 2
    return picture[:2 * h, :2 * w].reshape(h, 2, w, 2, *picture.shape[2:]).mean((1, 3))


def brightest(seen, core):
    """As coat_view has it: mean of the brightest paint."""
    of = seen[core]
    if len(of) < 200:
        return None
    bright = of.sum(1)
    level = np.quantile(bright, 0.9)
    near = of[(bright > 0.85 * level) & (bright < 1.1 * level)]
    paint = near.mean(0)
    return paint if (paint > 1e-4).all() else None


def weights(n, m, wide):
    """Rows of a resampling from n to m pixels: means over areas, or linear."""
    w = np.zeros((m, n), np.float32)
    if wide:
        edges = np.linspace(0, n, m + 1)
        for k in range(m):
            a, b = edges[k], edges[k + 1]
            for j in range(int(a), min(n, int(math.ceil(b)))):
                w[k, j] = min(b, j + 1) - max(a, j)
        return w / w.sum(1, keepdims=True)
    at = np.clip((np.arange(m) + 0.5) * n / m - 0.5, 0, n - 1)
    k = np.minimum(at.astype(int), n - 2)
    w[np.arange(m), k], w[np.arange(m), k + 1] = 1 - (at - k), at - k
    return w


def apply(w, picture, axis):
    return np.moveaxis(np.tensordot(w, picture.astype(np.float32), (1, axis)), 0, axis)


def area(picture, m, axis):
    return apply(weights(picture.shape[axis], m, True), picture, axis) if m < picture.shape[axis] else picture


def linear(picture, m, axis):
    return apply(weights(picture.shape[axis], m, False), picture, axis) if m != picture.shape[axis] else picture


def blurred(picture, sigma):
    reach = max(1, int(3 * sigma + 0.5))
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma)**2)
    kernel /= kernel.sum()
    for axis in (0, 1):
        pad = [(0, 0)] * picture.ndim
        pad[axis] = (reach, reach)
        big = np.pad(picture, pad, mode="edge")
        n = picture.shape[axis]
        picture = sum(k * np.take(big, range(j, j + n), axis) for j, k in enumerate(kernel))
    return picture


def jpeg(rgb, quality):
    """Quantised as JPEG does it: luma whole, colour at half size."""
    scale = 5000 / quality if quality < 50 else 200 - 2 * quality
    table = np.clip(np.floor((LUMA * scale + 50) / 100), 1, 255)
    y = rgb @ np.array([0.299, 0.587, 0.114])
    cb, cr = (rgb[..., 2] - y) * 0.564, (rgb[..., 0] - y) * 0.713

    def blocks(plane, table):
        h, w = plane.shape
        big = np.pad(plane, ((0, -h % 8), (0, -w % 8)), mode="edge")
        b = big.reshape(big.shape[0] // 8, 8, -1, 8).transpose(0, 2, 1, 3) - 128
        b = DCT.T @ (np.round(DCT @ b @ DCT.T / table) * table) @ DCT
        return (b + 128).transpose(0, 2, 1, 3).reshape(big.shape)[:h, :w]
    y = blocks(y, table)
    h, w = y.shape
    half = [linear(linear(blocks(area(area(c + 128, (h + 1) // 2, 0), (w + 1) // 2, 1), table * 1.3), h, 0), w, 1) - 128 for c in (cb, cr)]
    r, b = y + half[1] / 0.713, y + half[0] / 0.564
    return np.clip(np.stack([r, (y - 0.299 * r - 0.114 * b) / 0.587, b], -1), 0, 255)


def write(file, x, truth, same, view, px):
    rows, cols = x.shape[:2]
    with open(file + ".part", "wb") as out:
        out.write(np.array([rows, cols], np.int32).tobytes() + np.array([view, px, 1, same], np.float32).tobytes())
        out.write(x.astype(np.float16).tobytes() + np.clip(np.round(250 * truth), 0, 250).astype(np.uint8).tobytes())
    os.rename(file + ".part", file)


def main():
    parse = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parse.add_argument("out")
    parse.add_argument("--count", type=int, default=10)
    parse.add_argument("--seed", type=int, default=1)
    parse.add_argument("--layered", type=float, default=0.5)
    options = parse.parse_args()
    os.makedirs(options.out, exist_ok=True)
    for k in range(options.count):
        random = np.random.default_rng([options.seed, k])
        thin = random.random() < 0.5
        wide = random.uniform(600, 1500) if thin else random.uniform(500, 1100)
        high = random.uniform(190, 330) if thin else random.uniform(500, 1000)
        maker = Maker(random, wide, high)
        made = maker.marking(random.random() < options.layered)
        if made:
            write(os.path.join(options.out, f"made-{options.seed * 100000 + k}_T1.bin"), *made, 2.0)


if __name__ == "__main__":
    main()
