"""Places full of things, as they stand behind and beside pavement: heaps of shapes, bicycles and their racks, shop fronts, charts.

Seen in real photos, such places lit up as paint all over. What tells them from markings is that shape lies against shape and
over shape, with hardly any pavement between; no element alone is unlike paint. So that the net does not learn that wide bright
bars are things, `scene.py` paints wide markings into most pictures with clutter, and bright even plates are rare in heaps.
"""
import numpy as np

import palette
import raster
import shapes

LETTERS = list("ABCDEFGHJKLMNPRSTUVWXYZ0123456789")
SPREAD = (0.01, 0.45)  # sizes of a heap's elements, of the picture's longer side; small ones come more often


def drawn(random):
    """What a scene is cluttered with, drawn before its markings; mostly nothing."""
    pick = random.random()
    return {"everywhere": pick < 0.03, "part": 0.03 <= pick < 0.2, "shop": random.random() < 0.11,
            "bicycles": random.random() < 0.1, "chart": random.random() < 0.004}


def add_clutter(scene):
    """Before everything that stands in front of it: the upper part of the picture, a side, or now and then all of it."""
    if scene.clutter["everywhere"]:
        heap(scene, np.ones(scene.thing.shape, bool))
    elif scene.clutter["part"]:
        heap(scene, _part(scene))
    if scene.clutter["shop"]:
        shop_front(scene)


def add_racks(scene):
    """Bicycles, hoops, and boards of squares standing on the pavement."""
    if scene.clutter["bicycles"]:
        bicycles(scene)
    if scene.clutter["chart"]:
        chart(scene)


def some_colour(random):
    """Mostly dark and dull, as most things are; bright and coloured now and then."""
    pick = random.random()
    if pick < 0.6:
        return palette.grey(random, 0.01, 0.25, 0.15)
    if pick < 0.75:
        return palette.grey(random, 0.25, 0.9, 0.06)
    return np.exp(random.uniform(np.log(0.01), np.log(0.7), 3))


def look(scene):
    random = scene.random
    second = palette.Second(some_colour(random), str(random.choice(palette.PATTERNS)), random.uniform(-0.5, 1.8),
                            random.uniform(0.03, 0.6), np.exp(random.uniform(np.log(0.08), np.log(2))))
    return scene.new_thing(some_colour(random), texture=random.choice([random.uniform(0, 0.2), random.uniform(0.2, 1)]),
                           second=second if random.random() < 0.5 else None, lean=random.normal(0, 0.6))


def _part(scene):
    """What lies above a line through the picture, which leans a little or a lot."""
    random = scene.random
    height, width = scene.thing.shape
    lean = random.normal(0, 0.12) if random.random() < 0.75 else random.choice([-1, 1]) * np.exp(random.uniform(-1, 2))
    x, y = np.arange(width) / width - random.uniform(0.2, 0.8), np.arange(height) / height - random.uniform(0.12, 0.55)
    return y[:, None] < lean * x[None] * width / height


# ---- heaps ----------------------------------------------------------------------------------------------------------

def heap(scene, region):
    """Shapes over shapes of all sizes, with a few looks, the small ones last."""
    random = scene.random
    height, width = scene.thing.shape
    side = max(height, width)
    looks = [look(scene) for _ in range(random.integers(6, 26))]
    layer = np.full(scene.thing.shape, looks[0], np.uint8)
    sizes = np.exp(random.uniform(*np.log(SPREAD), random.integers(40, 220)))
    uprightness = random.choice([0.02, 0.2, 3.0])
    for size in np.sort(sizes)[::-1]:
        rings = _element(random, size * side, uprightness)
        middle = random.uniform(-0.05, 1.05, 2) * (width, height)
        raster.fill(layer, [ring + middle for ring in rings], int(random.choice(looks)))
    scene.thing[region] = layer[region]


def _element(random, size, uprightness):
    style = random.choice(["bar", "plate", "blob", "disc", "ring", "wire", "word"], p=[0.17, 0.22, 0.25, 0.09, 0.07, 0.14, 0.06])
    turn = random.choice([0.0, np.pi / 2]) + random.normal(0, uprightness)
    if style == "bar":
        return shapes.moved(shapes.rectangle(size, size * random.uniform(0.02, 0.12)), (0, 0), turn)[0]
    if style == "plate":
        return shapes.moved(shapes.rectangle(size, size * random.uniform(0.3, 1)), (0, 0), turn)[0]
    if style == "blob":
        return [shapes.blob(random, size / 2, random.uniform(0.05, 0.5), 24)]
    if style == "disc":
        return [ring * (1, random.uniform(0.4, 1)) for ring in shapes.disc((0, 0), size / 2, 24)]
    if style == "ring":
        squeeze = (1, random.uniform(0.2, 1))
        return [ring * squeeze for radius in (0.5, random.uniform(0.36, 0.47)) for ring in shapes.disc((0, 0), size * radius, 28)]
    if style == "wire":
        path = np.cumsum(random.normal(0, size / 6, (8, 2)), 0)
        return shapes.ribbon(path, size * random.uniform(0.01, 0.06))[0]
    word = "".join(random.choice(LETTERS, random.integers(2, 9)))
    return [ring * (size / 2500, -size / 2500) for ring in shapes.letters(word, shapes.FONTS[random.integers(len(shapes.FONTS))])]


# ---- things that stand ----------------------------------------------------------------------------------------------

class Upright:
    """A plane that stands on the ground: x along it, z up."""

    def __init__(self, scene, place, angle):
        self.scene, self.place = scene, np.asarray(place, float)
        self.along = np.array([np.cos(angle), np.sin(angle)])

    def corners(self, ring):
        return np.column_stack([self.place + ring[:, :1] * self.along, ring[:, 1]])

    def draw(self, shape, identity, shadow=False):
        for piece in shape:
            rings = [self.scene.camera.project(self.corners(ring)) for ring in piece]
            rings = [ring for ring in rings if ring is not None and len(ring) > 2]
            if rings:
                raster.fill(self.scene.thing, rings, identity)
            if shadow:
                cast = [self.corners(ring) for ring in piece]
                self.scene.draw(self.scene.shadow, [[c[:, :2] + c[:, 2:] * self.scene.sun for c in cast]], 255)


def _shift(shape, x, z):
    return [[ring + (x, z) for ring in piece] for piece in shape]


def bicycles(scene):
    """One, or a row of them side by side, with hoops to lean on now and then."""
    random = scene.random
    place = scene.ground_at(random.uniform(0, 1), random.uniform(0.05, 0.75))
    if place is None or not 1500 < np.hypot(*place) < 25000:
        return
    angle, row = random.uniform(0, np.pi), random.uniform(0, 2 * np.pi)
    step = np.array([np.cos(row), np.sin(row)]) * random.uniform(350, 900)
    spots = [place + k * step for k in range(random.choice([1, 2, 4, 7]))]
    hoops, metal = random.random() < 0.45, palette.grey(random, 0.1, 0.8)
    for spot in sorted(spots, key=lambda p: -np.hypot(*p)):
        if spot[1] < 1200:
            continue
        if hoops:
            width, height, pipe = random.uniform(400, 1000), random.uniform(450, 950), random.uniform(35, 65)
            path = np.array([(0, 0), (0, height), (width, height), (width, 0)]) - (width / 2, 0)
            Upright(scene, spot, angle + random.normal(0, 0.05)).draw(shapes.stroke(path, pipe), scene.new_thing(metal, texture=0.1), True)
        if not hoops or random.random() < 0.6:
            bicycle(scene, spot + random.normal(0, 60, 2), angle + random.normal(0, 0.12))


def bicycle(scene, place, angle):
    random = scene.random
    plane = Upright(scene, place, angle)
    frame, rubber = scene.new_thing(some_colour(random), texture=0.1), scene.new_thing(palette.grey(random, 0.01, 0.05))
    rim, wire = scene.new_thing(palette.grey(random, 0.1, 0.7)), scene.new_thing(palette.grey(random, 0.1, 0.6))
    radius, base = random.uniform(250, 350), random.uniform(480, 560)

    def tube(*points, width=random.uniform(28, 45), identity=frame):
        plane.draw(shapes.ribbon(np.array(points, float), width), identity, shadow=True)
    for x in (-base, base):
        for k in range(14):
            turn = 2 * np.pi * k / 14
            tip = np.array([np.cos(turn), np.sin(turn)]) * radius * 0.93
            tube((x, radius), (x + tip[0], radius + tip[1]), width=5, identity=wire)
        for outer, inner, identity in ((0.95, 0.9, rim), (1.0, 0.94, rubber)):
            hoop = [[ring for part in (outer, inner) for ring in shapes.disc((0, 0), radius * part, 28)]]
            plane.draw(_shift(hoop, x, radius), identity, shadow=True)
    crank, seat, head = (-60, 280), (-200, random.uniform(700, 850)), (380, random.uniform(720, 880))
    tube((-base, radius), crank), tube(crank, seat), tube(crank, head), tube(head, seat), tube(seat, (-base, radius))
    tube(head, (base, radius)), tube(head, (350, 980), (450, 1020))
    tube((seat[0] - 120, seat[1] + 120), (seat[0] + 130, seat[1] + 130), width=60, identity=rubber)
    for x, z in ((-base, radius), (base, radius)):
        if random.random() < 0.5:  # mudguard
            turn = np.linspace(0.1 * np.pi, 0.9 * np.pi, 12)
            arc = np.stack([np.cos(turn), np.sin(turn)], 1) * radius * 1.07 + (x, z)
            tube(*arc, width=22)


def shop_front(scene):
    """A wall near by: panes full of goods, frames, doors, letters over it."""
    random = scene.random
    place = scene.ground_at(random.uniform(0.2, 0.8), random.uniform(0.05, 0.4))
    if place is None or not 2500 < np.hypot(*place) < 20000:
        return
    plane = Upright(scene, place, random.normal(0, 0.4))
    height, reach = random.uniform(2500, 7000), 25000
    wall = look(scene)

    def plate(left, right, low, high, identity):
        plane.draw([[np.array([(left, low), (right, low), (right, high), (left, high)], float)]], identity)
    plate(-reach, reach, 0, height, wall)
    goods = [look(scene) for _ in range(10)]
    frame, sill = look(scene), random.choice([0.0, random.uniform(100, 900)])
    left = -9000.0
    while left < 9000:
        width, top = random.uniform(500, 3500), random.uniform(1900, 2900)
        low = 0.0 if random.random() < 0.2 else sill
        plate(left - 60, left + width + 60, max(0, low - 60), top + 60, frame)
        plate(left, left + width, low, top, int(random.choice(goods)))
        for _ in range(random.integers(0, 25)):
            size = np.exp(random.uniform(np.log(80), np.log(1600)))
            x, z = random.uniform(left, left + width), random.uniform(low, top)
            part = [np.stack([np.clip(ring[:, 0] + x, left, left + width), np.clip(ring[:, 1] + z, low, top)], 1)
                    for ring in _element(random, size, 0.05)]
            plane.draw([part], int(random.choice(goods)))
        for x in np.arange(left, left + width, random.uniform(400, 1600)):
            plate(x - 25, x + 25, low, top, frame)
        left += width + random.uniform(100, 1500)
    if random.random() < 0.5:
        rings = shapes.letters("".join(random.choice(LETTERS, random.integers(4, 10))), shapes.FONTS[0])
        size = random.uniform(200, 600) / 730
        plane.draw([[ring * (size, size) + (random.uniform(-2500, 0), min(height - 600, 3000)) for ring in rings]], look(scene))


def chart(scene):
    """A board of two-coloured squares, turned any way, before anything."""
    random = scene.random
    height, width = scene.thing.shape
    columns, rows = random.integers(4, 12, 2)
    side = random.uniform(0.02, 0.09) * max(height, width)
    turn = shapes.turned(np.eye(2), random.normal(0, 0.3))
    bend = random.normal(0, 0.03, 2) / columns
    middle = random.uniform(0.2, 0.8, 2) * (width, height)
    light, dark = scene.new_thing(palette.grey(random, 0.5, 0.9)), scene.new_thing(palette.grey(random, 0.01, 0.1))

    def at(x, y):
        place = (np.array([x, y]) - (columns / 2, rows / 2)) * side
        return place @ turn / (1 + bend @ (np.array([x, y]) - (columns / 2, rows / 2))) + middle

    def cell(x0, y0, x1, y1, identity):
        raster.fill(scene.thing, [np.array([at(x0, y0), at(x1, y0), at(x1, y1), at(x0, y1)])], identity)
    cell(-0.7, -0.7, columns + 0.7, rows + 0.7, light)
    for x in range(columns):
        for y in range(rows):
            if (x + y) % 2 == 0:
                cell(x, y, x + 1, y + 1, dark)
