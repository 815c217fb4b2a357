"""Outlines of markings in millimetres, centred near the origin and pointing along +y.

A shape is a list of pieces, a piece a list of rings filled by the even-odd rule; pieces are united. Proportions are drawn
from wide ranges on purpose: stencils differ, and many markings are home-made. Typical sizes are from memory.
"""
import functools

import numpy as np
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextPath

from raster import clip

# Families that matplotlib carries with it, so that training needs no fonts of the machine.
FONTS = (("DejaVu Sans", "bold"), ("DejaVu Sans", "normal"), ("DejaVu Sans Mono", "bold"), ("DejaVu Serif", "bold"),
         ("STIXGeneral", "bold"), ("cmss10", "normal"))
WORDS = ("STOP", "ONLY", "NO PARKING", "SLOW", "YIELD", "EXIT", "ENTER", "FIRE LANE", "VISITOR", "RESERVED", "LOADING",
         "KEEP CLEAR", "COMPACT", "VAN", "BUS", "PED XING", "NO", "STAFF", "GUEST", "EV", "ONE WAY", "AHEAD", "WAIT",
         "5 MPH", "10", "15", "P", "TAXI", "TOW ZONE", "ZONE", "SCHOOL", "ACCESS AISLE")


def rectangle(width, length):
    x, y = width / 2, length / 2
    return [[np.array([[-x, -y], [x, -y], [x, y], [-x, y]])]]


def stroke(points, width, square=False):
    """Thick polyline as one piece for each segment and joint; square ends on request."""
    points = np.asarray(points, float)
    pieces = []
    for a, b in zip(points[:-1], points[1:]):
        along = (b - a) / max(np.hypot(*(b - a)), 1e-6)
        side = np.array([-along[1], along[0]]) * width / 2
        pieces.append([np.array([a + side, a - side, b - side, b + side])])
    joints = points[1:-1] if square else points
    return pieces + [disc(point, width / 2, 12) for point in joints]


def ribbon(points, width):
    """Thick polyline as one piece with mitred sides: for smooth curves."""
    points = np.asarray(points, float)
    along = np.gradient(points, axis=0)
    along /= np.maximum(np.hypot(*along.T), 1e-6)[:, None]
    side = np.stack([-along[:, 1], along[:, 0]], 1) * width / 2
    return [[np.concatenate([points + side, (points - side)[::-1]])]]


def disc(centre, radius, corners=24):
    angles = np.arange(corners) * 2 * np.pi / corners
    return [np.asarray(centre) + radius * np.stack([np.cos(angles), np.sin(angles)], 1)]


def arc(centre, radius, start, end, corners=24):
    angles = np.radians(np.linspace(start, end, corners))
    return np.asarray(centre) + radius * np.stack([np.cos(angles), np.sin(angles)], 1)


def blob(random, radius, roughness=0.25, corners=64):
    """An irregular closed ring; what a peeled patch or a spill looks like."""
    angles = np.arange(corners) * 2 * np.pi / corners
    reach = np.ones(corners)
    for k in range(2, 14):
        reach += roughness * random.normal() / k ** 0.8 * np.cos(k * angles + random.uniform(0, 6.3))
    stretch = np.exp(random.normal(0, 0.35))
    ring = radius * np.maximum(reach, 0.15)[:, None] * np.stack([np.cos(angles) * stretch, np.sin(angles) / stretch], 1)
    return turned(ring, random.uniform(0, 6.3))


def turned(ring, angle):
    c, s = np.cos(angle), np.sin(angle)
    return ring @ np.array([[c, s], [-s, c]])


def moved(shape, offset, angle=0.0, scale=(1.0, 1.0)):
    return [[turned(ring * np.asarray(scale), angle) + np.asarray(offset) for ring in piece] for piece in shape]


def extent(shape):
    corners = np.concatenate([ring for piece in shape for ring in piece])
    return corners.min(0), corners.max(0)


# ---- markings -------------------------------------------------------------------------------------------------------

def stall_line(random):
    return rectangle(random.uniform(90, 165), random.uniform(1500, 6500))


def stop_line(random):
    return rectangle(random.uniform(230, 800), random.uniform(1000, 6000))


def crosswalk(random):
    style = random.choice(["bars", "transverse", "ladder", "slanted"], p=[0.55, 0.2, 0.17, 0.08])
    length = random.uniform(1500, 3200)
    count = random.integers(3, 9)
    bar, pitch = random.uniform(250, 620), random.uniform(1.6, 2.6)
    width = count * bar * pitch
    shape = []
    if style != "transverse":
        slant = random.uniform(-0.6, 0.6) if style == "slanted" else 0.0
        for k in range(count):
            x = (k - (count - 1) / 2) * bar * pitch
            piece = rectangle(bar, length)[0][0]
            piece = piece + np.stack([piece[:, 1] * slant, np.zeros(4)], 1)
            shape.append([piece + (x, 0)])
    if style != "bars" and style != "slanted":
        edge = random.uniform(150, 450)
        for y in (-length / 2, length / 2):
            shape += moved(rectangle(width, edge), (0, y))
    return shape


def arrow(random):
    kind = random.choice(["straight", "left", "right", "straight_left", "straight_right", "left_right"],
                         p=[0.42, 0.15, 0.15, 0.1, 0.1, 0.08])
    length = random.uniform(900, 3600)
    shaft = np.clip(length * random.uniform(0.05, 0.17), 80, 420)
    shape = []
    if kind == "straight" or kind.startswith("straight"):
        head = _head(random, shaft)
        shape += stroke([(0, -length / 2), (0, length / 2)], shaft, square=True)
        shape += moved(head, (0, length / 2 - random.uniform(0, 30)))
    for side in (("left", -1), ("right", 1)):
        if side[0] in kind:
            shape += _turn(random, length, shaft, side[1], alone=not kind.startswith("straight"))
    if random.random() < 0.15:
        shape = moved(shape, (0, 0), np.radians(random.normal(0, 6)))
    return shape


def _head(random, shaft):
    """Arrow head with its base at the origin, pointing along +y."""
    width = shaft * random.uniform(2.0, 4.2)
    height = width * random.uniform(0.6, 1.9)
    barb = random.uniform(0.0, 0.35) * height if random.random() < 0.35 else 0.0
    if random.random() < 0.08:
        return stroke([(-width / 2, 0), (0, height), (width / 2, 0)], shaft, square=True)
    return [[np.array([[-width / 2, -barb], [-shaft / 2, 0], [shaft / 2, 0], [width / 2, -barb], [0, height]])]]


def _turn(random, length, shaft, side, alone):
    """Shaft that leaves the stem and turns to one side, curved or bent."""
    bend = random.uniform(-0.15, 0.45) * length
    reach = random.uniform(0.15, 0.45) * length + shaft
    heading = np.radians(random.choice([90, random.uniform(35, 110)]))
    if random.random() < 0.55:
        radius = reach * random.uniform(0.6, 1.2)
        path = arc((radius, bend - radius * 0.3), radius, 180, 180 - np.degrees(heading), 14)
        end = path[-1] + np.array([np.sin(heading), np.cos(heading)]) * reach * 0.2
        path = np.vstack([[(0, bend - radius * 0.3)], path, [end]])
    else:
        path = np.array([(0, bend), np.array([0, bend]) + np.array([np.sin(heading), np.cos(heading)]) * reach])
    if alone:
        path = np.vstack([[(0, -length / 2)], path])
    shape = stroke(path, shaft, square=random.random() < 0.6)
    shape += moved(_head(random, shaft), path[-1], -heading)
    return moved(shape, (0, 0), 0.0, (side, 1))


def accessible_symbol(random):
    """Seated figure with a wheel, in the older upright or the newer leaning style; about 1000 high before scaling."""
    thick = random.uniform(70, 125)
    draw = _leaning_figure if random.random() < 0.35 else _upright_figure
    size = random.uniform(0.55, 1.5)
    mirrored = -1 if random.random() < 0.15 else 1
    return moved(draw(random, thick), (0, 0), 0.0, (size * mirrored * random.uniform(0.85, 1.1), size))


def _upright_figure(random, thick):
    lean, seat = random.uniform(-40, 40), random.uniform(-160, -60)
    neck = np.array([-60 + lean, 300])
    hip = np.array([-40, seat])
    knee = np.array([random.uniform(170, 260), seat])
    foot = knee + (random.uniform(40, 130), random.uniform(-330, -230))
    arm = neck + (0, random.uniform(-190, -130))
    shape = [disc(neck + (0, random.uniform(100, 150)), random.uniform(65, 95))]
    shape += stroke([neck, hip, knee, foot], thick)
    shape += stroke([foot, foot + (random.uniform(50, 110), random.uniform(0, 40))], thick * 0.9)
    shape += stroke([arm, arm + (random.uniform(160, 230), 0)], thick * 0.8)
    wheel = arc((-20, seat - 110), random.uniform(230, 300), random.uniform(100, 140), random.uniform(330, 372))
    return shape + ribbon(wheel, thick * random.uniform(0.7, 1.0))


def _leaning_figure(random, thick):
    shoulder = np.array([20, 230]) + random.normal(0, 25, 2)
    hip = np.array([-60, -60]) + random.normal(0, 20, 2)
    shape = [disc(shoulder + (130, 190), random.uniform(65, 95))]
    shape += stroke([shoulder + (40, 20), hip], thick * 1.2)
    elbow = shoulder + (-230, random.uniform(-120, -40))
    shape += stroke([shoulder, elbow, elbow + (70, -170)], thick * 0.8)
    shape += stroke([shoulder + (30, 0), shoulder + (230, -40)], thick * 0.8)
    knee = hip + (random.uniform(220, 280), random.uniform(0, 60))
    shape += stroke([hip, knee, knee + (40, -260)], thick)
    gap = random.uniform(20, 60)
    shape += ribbon(arc((-40, -190), 270, 80 + gap, 250), thick * 0.9)
    return shape + ribbon(arc((-40, -190), 270, 262, 400 - gap), thick * 0.9)


def hatching(random):
    """Stripes within a border: an access aisle, a corner, a strip; chevrons now and then."""
    width, length = random.uniform(900, 3000), random.uniform(1800, 6000)
    stripe, pitch = random.uniform(90, 320), random.uniform(2.2, 6.0)
    field = np.array([[-width / 2, -length / 2], [width / 2, -length / 2], [width / 2, length / 2], [-width / 2, length / 2]])
    if random.random() < 0.2:
        field[2:, 0] = random.uniform(-width / 2, width / 2)
    angle = np.radians(random.choice([45, -45, random.uniform(-70, 70)]))
    shape = []
    step = stripe * pitch
    for k in np.arange(-(length + width) / step, (length + width) / step):
        bar = moved(rectangle(4 * (length + width), stripe), (0, 0), angle)[0][0] + (0, k * step / np.cos(angle))
        bar = _clip_to(bar, field)
        if bar is not None:
            shape.append([bar])
    if random.random() < 0.75 or not shape:
        border = random.uniform(90, 160)
        shape += stroke(np.vstack([field, field[:1]]), border, square=True)
    return shape


def _clip_to(ring, field):
    for a, b in zip(field, np.roll(field, -1, axis=0)):
        normal = np.array([a[1] - b[1], b[0] - a[0]])
        ring = clip(ring, (ring - a) @ normal)
        if ring is None:
            return None
    return ring


@functools.lru_cache(maxsize=400)
def letters(text, font):
    family, weight = font
    path = TextPath((0, 0), text, size=1000, prop=FontProperties(family=family, weight=weight))
    return [np.asarray(ring)[:-1] for ring in path.to_polygons() if len(ring) > 3]


def legend(random):
    """Stencil letters: stretched along the road, some with bridges cut out."""
    word = WORDS[random.integers(len(WORDS))] if random.random() < 0.8 else "".join(
        random.choice(list("ABCDEFGHJKLMNPRSTUVWXYZ0123456789"), random.integers(1, 5)))
    font = FONTS[random.integers(len(FONTS))]
    height = random.uniform(200, 1300) if random.random() < 0.75 else random.uniform(1300, 2600)
    lines = word.split(" ") if random.random() < 0.7 else [word]
    shape = []
    for k, line in enumerate(lines):
        rings = letters(line, font)
        low, high = extent([rings])
        scale = height / (high[1] - low[1])
        wide = scale * random.uniform(0.45, 1.1)
        middle = (low + high) / 2
        rings = [(ring - middle) * (wide, scale) - (0, k * height * 1.35) for ring in rings]
        shape.append(_bridged(random, rings, height) if random.random() < 0.4 else rings)
    return shape


def _bridged(random, rings, height):
    """Cuts the letters by upright bridges, as a stencil's: the even-odd rule turns the strips over the letters to gaps
    only where the strip is cut to the letters, so every ring is clipped to the columns between the strips."""
    low, high = extent([rings])
    bridge, pitch = height * random.uniform(0.02, 0.05), height * random.uniform(0.25, 0.5)
    kept = []
    for left in np.arange(low[0], high[0], pitch):
        for ring in rings:
            part = clip(ring, ring[:, 0] - left)
            part = None if part is None else clip(part, left + pitch - bridge - part[:, 0])
            if part is not None:
                kept.append(part)
    return kept


def yield_line(random):
    base, height = random.uniform(280, 650), random.uniform(400, 1000)
    count, pitch = random.integers(3, 9), random.uniform(1.2, 1.8)
    triangle = np.array([[-base / 2, -height / 2], [base / 2, -height / 2], [0, height / 2]])
    return [[triangle + ((k - (count - 1) / 2) * base * pitch, 0)] for k in range(count)]


def road_line(random):
    """A long line, straight or in a wide curve, whole or dashed, single or double."""
    width, length = random.uniform(80, 200), random.uniform(8000, 40000)
    bend = random.normal(0, 1) / random.uniform(15000, 120000) if random.random() < 0.5 else 0.0
    dash, gap = random.uniform(600, 4000), random.uniform(600, 6000)
    dashed = random.random() < 0.4
    starts = np.arange(-length / 2, length / 2, dash + gap) if dashed else [-length / 2]
    reach = dash if dashed else length
    offsets = (0.0, width * random.uniform(1.8, 3.0)) if random.random() < 0.3 else (0.0,)
    shape = []
    for offset in offsets:
        for start in starts:
            y = np.linspace(start, start + reach, 24)
            shape += ribbon(np.stack([offset + bend * y ** 2 / 2, y], 1), width)
    return shape
