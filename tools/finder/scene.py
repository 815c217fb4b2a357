"""Makes up one scene: camera, pavement, markings, wear, things, light. Pure numpy, made from a seed, run by CPU workers.

A scene is a dict: identity maps at twice the picture's resolution (which polygon covers a spot) and flat parameter arrays.
What each identity looks like and how it wears is worked out by `render.py` on the GPU.
"""
import numpy as np

import clutter
import palette
import raster
import shapes
import things
from camera import Camera, looking
from network import KINDS
from palette import CRACKED_BIT, GROUND, GROUND_IDS, PAINT, PAINT_IDS, PEELED_BIT, THING, THING_IDS

SUPERSAMPLING = 2
ONE_MARKING = {"line": shapes.stall_line, "stop_line": shapes.stop_line, "crosswalk": shapes.crosswalk,
               "arrow": shapes.arrow, "accessible_symbol": shapes.accessible_symbol, "hatching": shapes.hatching,
               "legend": shapes.legend, "yield_line": shapes.yield_line}


class Scene:
    def __init__(self, seed, width, height):
        self.random = np.random.default_rng(seed)
        self.camera = make_camera(self.random, width * SUPERSAMPLING, height * SUPERSAMPLING)
        shape = (height * SUPERSAMPLING, width * SUPERSAMPLING)
        self.paint, self.under, self.ground, self.thing = (np.zeros(shape, np.uint8) for _ in range(4))
        self.shadow = np.zeros(shape, np.uint8)
        self.paint_rows, self.under_rows, self.ground_rows, self.thing_rows = (
            [PAINT.row()], [PAINT.row()], [GROUND.row()], [THING.row()])
        self.sun = self._sun()
        self.clutter = clutter.drawn(self.random)
        self.is_near = False
        self.verge = None  # where the pavement ends along a road's last line: a place and an angle

    def _sun(self):
        """Horizontal reach of a shadow for each millimetre of height."""
        reach = 1 / np.tan(np.radians(self.random.uniform(15, 75)))
        angle = self.random.uniform(0, 2 * np.pi)
        return np.array([np.cos(angle), np.sin(angle)]) * reach

    # ---- drawing -------------------------------------------------------------------------------------------------------
    def rings(self, piece, z=0.0):
        """Pixels of a piece's rings on the plane at height z."""
        seen = (self.camera.project(np.column_stack([ring, np.full(len(ring), z)])) for ring in piece)
        return [ring for ring in seen if ring is not None and len(ring) > 2]

    def draw(self, target, shape, value):
        for piece in shape:
            rings = self.rings(piece)
            if rings:
                raster.fill(target, rings, value)

    def draw_solid(self, target, corners, value):
        """One polygon given by 3-D corners."""
        ring = self.camera.project(np.asarray(corners, float))
        if ring is not None and len(ring) > 2:
            raster.fill(target, [ring], value)

    def cast_shadow(self, corners):
        """Shadow on the ground of one 3-D polygon."""
        corners = np.asarray(corners, float)
        self.draw(self.shadow, [[corners[:, :2] + corners[:, 2:] * self.sun]], 255)

    def new_ground(self, **row):
        return _append(self.ground_rows, GROUND.row(**row), GROUND_IDS)

    def new_thing(self, colour, not_ground=1, texture=0.0, lit=1, hides_paint=0, second=None, lean=0.0):
        """A look for things. `second`: a palette.Second, the colour that lies in a pattern among the first; `lean`: how the
        brightness changes down the picture, as on bent sheet metal."""
        return _append(self.thing_rows, THING.row(
            red=colour[0], green=colour[1], blue=colour[2], not_ground=not_ground, texture=texture, lit=lit,
            hides_paint=hides_paint, lean=lean, **(second or palette.Second()).columns()), THING_IDS)

    def new_paint(self, colour, **row):
        return _append(self.paint_rows, PAINT.row(red=colour[0], green=colour[1], blue=colour[2], **row), PAINT_IDS)

    def new_under(self, colour, **row):
        return _append(self.under_rows, PAINT.row(red=colour[0], green=colour[1], blue=colour[2], **row), PAINT_IDS)

    def ground_at(self, across, down):
        """Ground point at a relative place of the picture, or None."""
        return self.camera.ground_under((across * self.camera.width, down * self.camera.height))


def _append(rows, row, limit):
    """Identity of a new row; when the table is full the last identity is shared."""
    if len(rows) < limit - 1:
        rows.append(row)
    return len(rows) - 1


def make_camera(random, width, height):
    """Most photos are taken standing; some are crops of a larger photo, some from a vehicle or a high place."""
    style = random.choice(["standing", "down", "vehicle", "high"], p=[0.7, 0.14, 0.09, 0.07])
    equivalent = random.uniform(23, 36) if random.random() < 0.85 else random.uniform(15, 23)
    focal = equivalent / 43.27 * np.hypot(width, height)
    tilt, up = {"standing": lambda: (random.uniform(8, 68), random.uniform(1000, 2200)),
                "down": lambda: (abs(random.normal(0, 4)), random.uniform(900, 3500)),
                "vehicle": lambda: (random.uniform(48, 82), random.uniform(1200, 3000)),
                "high": lambda: (random.uniform(20, 70), random.uniform(4000, 15000))}[style]()
    roll = np.clip(random.normal(0, 5), -15, 15)
    centre = np.array([width / 2, height / 2])
    if random.random() < 0.2:
        crop = random.uniform(1.2, 3.5)
        centre = centre + random.uniform(-0.5, 0.5, 2) * (crop - 1) * (width, height)
        focal *= crop
    radial = 0.0 if random.random() < 0.6 else random.uniform(0, 0.1)
    return Camera(width, height, focal, tuple(centre), radial, looking(np.radians(tilt), np.radians(roll)), up)


# ---- markings -------------------------------------------------------------------------------------------------------

class Wear:
    """How the paint of one scene has worn; each marking differs a little."""

    def __init__(self, random):
        self.random = random
        fresh = random.random() < 0.25
        worn_out = random.random() < 0.25
        self.remaining = random.uniform(0.93, 1.0) if fresh else random.uniform(0.05, 0.4 if worn_out else 1.0)
        self.flaked_share = random.choice([random.uniform(0, 0.12), random.uniform(0.2, 0.75), random.uniform(0.8, 1.0)],
                                          p=[0.42, 0.28, 0.30])
        self.chips = random.choice([0.0, 1.0, random.uniform(0, 1)])
        self.by_stone, self.by_patch, self.by_wheel = random.uniform(0.4, 2.4), random.uniform(0.1, 1.2), 0.0
        if random.random() < 0.3:  # bald in large patches, speckled between them
            self.by_patch = random.uniform(1.2, 3.0)
        if random.random() < 0.5:
            self.by_wheel = random.uniform(0.3, 2.5)
        self.fading = random.uniform(0, 0.7) ** 1.5 if random.random() < 0.6 else 0.0
        self.texture = random.uniform(0.1, 0.8)
        self.older = not fresh and random.random() < 0.35
        if self.older:  # where hardly any top coat is left, nothing in the picture says that the coat seen is an older one
            self.remaining = max(self.remaining, random.uniform(0.3, 0.9))
        self.colour = str(random.choice(palette.PAINTS, p=[0.52, 0.34, 0.06, 0.05, 0.03]))

    def row(self, kind):
        """Parameters of one marking's coat."""
        random = self.random
        remaining = np.clip(self.remaining + random.normal(0, 0.08), 0.06, 1.0)
        if self.remaining > 0.97:
            remaining = self.remaining
        kept_from_flaking = remaining ** np.clip(self.flaked_share + random.normal(0, 0.05), 0, 1)
        kept_from_abrasion = remaining / kept_from_flaking
        return dict(kind=KINDS.index(kind), abrasion=_deviate(1 - kept_from_abrasion), by_stone=self.by_stone,
                    by_patch=self.by_patch, by_wheel=self.by_wheel, flaking=_deviate(1 - kept_from_flaking),
                    chips=self.chips, texture=self.texture)

    def coat(self, name=None):
        name = name or (self.colour if self.random.random() < 0.85 else str(self.random.choice(palette.PAINTS[:3])))
        return palette.faded(palette.paint(self.random, name), self.fading)


def _deviate(share):
    """Standard normal deviate below which `share` of the values lie (logistic approximation, good to 2 %)."""
    share = np.clip(share, 1e-4, 1 - 1e-4)
    return np.log(share / (1 - share)) / 1.702


def put(scene, wear, kind, shape, offset, angle, colour=None):
    """Paints a marking, perhaps over an older coat of itself."""
    random = scene.random
    placed = shapes.moved(shape, offset, angle)
    if wear.older and random.random() < 0.8:
        older = shapes.moved(shape, np.asarray(offset) + random.normal(0, random.choice([2, 25]), 2),
                             angle + random.normal(0, 0.008), 1 + random.normal(0, 0.02, 2))
        name = None if random.random() < 0.5 else str(random.choice(palette.PAINTS[:3]))
        coat = palette.faded(wear.coat(name), random.uniform(0.1, 0.9))
        scene.draw(scene.under, older, scene.new_under(coat, older_loss=_deviate(random.uniform(0.02, 0.6))))
    scene.draw(scene.paint, placed, scene.new_paint(wear.coat(colour), **wear.row(kind)))


def put_symbol(scene, wear, offset, angle):
    """Accessible symbol: bare, or white on a blue field with or without a border."""
    random = scene.random
    symbol = shapes.accessible_symbol(random)
    low, high = shapes.extent(symbol)
    symbol = shapes.moved(symbol, -(low + high) / 2)
    row = wear.row("accessible_symbol")
    if random.random() < 0.55:
        side = (high - low).max() * random.uniform(1.1, 1.5)
        field = shapes.moved(shapes.rectangle(side, side), offset, angle)
        if random.random() < 0.6:
            border = side + 2 * random.uniform(50, 120)
            scene.draw(scene.paint, shapes.moved(shapes.rectangle(border, border), offset, angle),
                       scene.new_paint(wear.coat("white"), **row))
        scene.draw(scene.paint, field, scene.new_paint(wear.coat("blue"), **row))
        colour = "white"
    else:
        colour = str(random.choice(["white", "blue", "yellow"], p=[0.55, 0.25, 0.2]))
    if wear.older and random.random() < 0.7:
        older = shapes.moved(symbol, np.asarray(offset) + random.normal(0, 15, 2), angle)
        scene.draw(scene.under, older, scene.new_under(wear.coat(), older_loss=_deviate(random.uniform(0.02, 0.6))))
    scene.draw(scene.paint, shapes.moved(symbol, offset, angle), scene.new_paint(wear.coat(colour), **row))


def put_kind(scene, wear, kind, offset, angle):
    if kind == "accessible_symbol":
        put_symbol(scene, wear, offset, angle)
        return
    shape = ONE_MARKING[kind](scene.random)
    low, high = shapes.extent(shape)
    put(scene, wear, kind, shapes.moved(shape, -(low + high) / 2), offset, angle)


def single(scene, wear, anchor, angle):
    """One marking of any kind with a few others about it."""
    random = scene.random
    kinds = list(ONE_MARKING)
    put_kind(scene, wear, str(random.choice(kinds, p=[0.11, 0.18, 0.13, 0.15, 0.14, 0.08, 0.13, 0.08])), anchor, angle)
    for _ in range(random.choice([0, 0, 1, 2])):
        away = random.uniform(1800, 4500)
        around = random.uniform(0, 2 * np.pi)
        put_kind(scene, wear, str(random.choice(kinds)), anchor + away * np.array([np.cos(around), np.sin(around)]),
                 angle + random.choice([0, np.pi / 2, random.uniform(0, 6.3)]))


def wide(scene, wear, anchor, angle):
    """Wide bars, near and often fresh, as clutter has them too."""
    random = scene.random
    if random.random() < 0.5:
        wear.remaining = random.uniform(0.85, 1.0)
    kinds = ["stop_line", "crosswalk", "arrow", "line", "hatching"]
    for k in range(random.choice([1, 2, 2, 3])):
        away = anchor + random.normal(0, 1800, 2) * (k > 0)
        put_kind(scene, wear, str(random.choice(kinds, p=[0.4, 0.34, 0.12, 0.07, 0.07])), away,
                 angle + random.choice([0, np.pi / 2, random.uniform(0, 6.3)]))


def near(scene, wear, anchor, angle):
    """One or two markings that fill much of the picture, most of them fresh, as a person photographs them one by one. Large,
    bright and even, they are what boards and bonnets are as well, and bare pavement around them is what tells them apart."""
    random = scene.random
    scene.is_near = True
    if random.random() < 0.6:
        wear.remaining = random.uniform(0.88, 1.0)
    left, right = scene.ground_at(0.05, 0.6), scene.ground_at(0.95, 0.6)
    if left is None or right is None:
        single(scene, wear, anchor, angle)
        return
    view = np.hypot(*(np.asarray(right) - left))
    place = anchor
    for _ in range(random.choice([1, 1, 2])):
        kind = str(random.choice(list(ONE_MARKING), p=[0.06, 0.14, 0.14, 0.3, 0.06, 0.06, 0.12, 0.12]))
        if kind == "accessible_symbol":
            put_symbol(scene, wear, place, angle)
        else:
            shape = ONE_MARKING[kind](random)
            low, high = shapes.extent(shape)
            scale = np.clip(view * random.uniform(0.4, 1.3) / (high - low).max(), 0.5, 1.7)
            put(scene, wear, kind, shapes.moved(shapes.moved(shape, -(low + high) / 2), (0, 0), 0, scale), place, angle)
        place = anchor + random.normal(0, 0.6 * view, 2)


def stalls(scene, wear, anchor, angle):
    """A row of stalls: lines, now and then a symbol, an aisle, a number or a front line."""
    random = scene.random
    pitch, length, width = random.uniform(2300, 2900), random.uniform(4000, 5800), random.uniform(90, 165)
    slant = random.choice([0.0, random.uniform(-0.7, 0.7)], p=[0.7, 0.3])
    colour = str(random.choice(["white", "yellow", "blue"], p=[0.55, 0.38, 0.07]))
    start = -random.integers(1, 4)
    shift = anchor - shapes.turned(np.array([[0.0, random.uniform(-0.5, 0.5) * length]]), angle)[0]

    def at(x, y):
        return shift + shapes.turned(np.array([[x, y]]), angle)[0]
    for k in range(start, start + random.integers(3, 8)):
        put(scene, wear, "line", shapes.rectangle(width, length), at(k * pitch, 0), angle + slant, colour)
        middle = at((k + 0.5) * pitch, random.uniform(-0.2, 0.2) * length)
        choice = random.random()
        if choice < 0.16:
            put_symbol(scene, wear, middle, angle)
        elif choice < 0.3:
            aisle = shapes.hatching(random)
            low, high = shapes.extent(aisle)
            scale = (pitch - width, length) / (high - low)
            put(scene, wear, "hatching", shapes.moved(aisle, (0, 0), 0, scale), at((k + 0.5) * pitch, 0), angle, colour)
        elif choice < 0.42:
            put_kind(scene, wear, "legend", middle, angle)
    if random.random() < 0.3:
        put(scene, wear, "line", shapes.rectangle(pitch * 6, width), at(0, length / 2), angle, colour)


def lane(scene, wear, anchor, angle):
    """Arrow, word, stop line, crosswalk along one lane."""
    random = scene.random
    kinds = ["arrow", "legend", "stop_line", "crosswalk", "yield_line"]
    along = np.array([-np.sin(angle), np.cos(angle)])
    place = np.asarray(anchor, float)
    for kind in random.permutation(kinds)[:random.integers(2, 5)]:
        put_kind(scene, wear, str(kind), place + random.normal(0, 100, 2), angle)
        place = place + along * random.uniform(2800, 4200)
    if random.random() < 0.6:
        side = np.array([along[1], -along[0]]) * random.uniform(1500, 2200)
        put(scene, wear, "line", shapes.road_line(random), anchor + side, angle)


def road(scene, wear, anchor, angle):
    """Long lines along a road; the outermost often runs along the verge."""
    random = scene.random
    side = np.array([np.cos(angle), np.sin(angle)])
    for k in range(random.integers(1, 4)):
        place = anchor + side * k * random.uniform(1500, 3800)
        put(scene, wear, "line", shapes.road_line(random), place, angle)
    if random.random() < 0.6:
        scene.verge = place + side * np.exp(random.uniform(np.log(150), np.log(2000))), angle + random.normal(0, 0.01)


def corners(scene, wear, anchor, angle):
    """Lines that meet: an L, a T, a box."""
    random = scene.random
    width, a, b = random.uniform(80, 170), random.uniform(600, 3000), random.uniform(600, 3000)
    points = [(0, 0), (a, 0), (a, b), (0, b), (0, 0)][:random.integers(3, 6)]
    put(scene, wear, "line", shapes.stroke(points, width, square=random.random() < 0.5), anchor, angle)
    if random.random() < 0.5:
        put_kind(scene, wear, str(random.choice(["legend", "arrow"])), anchor + random.normal(0, 900, 2), angle)


LAYOUTS = (single, stalls, lane, road, corners, near)


def add_markings(scene):
    random = scene.random
    wear = Wear(random)
    if any(scene.clutter.values()) and random.random() < 0.6:
        layout = wide
    else:
        layout = LAYOUTS[random.choice(len(LAYOUTS), p=[0.38, 0.18, 0.13, 0.1, 0.04, 0.17])]
    aim = (random.uniform(0.2, 0.8), random.uniform(0.35, 0.8))
    anchor = scene.ground_at(*aim)
    if anchor is None:
        return
    angle = random.choice([random.normal(0, 0.15), random.normal(np.pi / 2, 0.2), random.uniform(0, 2 * np.pi)])
    layout(scene, wear, anchor, angle)
    peel(scene, wear)


def peel(scene, wear):
    """Whole parts of the markings that have come off: from a hand's width to a missing metre."""
    random = scene.random
    if random.random() < (0.25 if wear.remaining > 0.93 else 0.5):
        return
    rows, columns = np.nonzero(scene.paint)
    if not len(rows):
        return
    missing = np.zeros(scene.paint.shape, np.uint8)
    for _ in range(random.integers(1, 6)):
        k = random.integers(len(rows))
        centre = scene.camera.ground_under((columns[k], rows[k]))
        if centre is not None:
            radius = np.exp(random.uniform(np.log(40), np.log(550)))
            scene.draw(missing, [[shapes.blob(random, radius, random.uniform(0.05, 0.35)) + centre]], 1)
    scene.paint[(missing == 1) & (scene.paint > 0)] |= PEELED_BIT


# ---- pavement -------------------------------------------------------------------------------------------------------

def add_ground_features(scene):
    """Patches, sealer, joints, covers, ghosts of old markings; drawn below the paint."""
    random = scene.random
    reach = scene.camera.height_mm * 4
    for _ in range(random.choice([0, 1, 1, 2, 3])):
        centre = _somewhere(scene)
        if centre is None:
            continue
        style = random.choice(["patch", "sealer", "pale", "crumbled", "stain", "gutter", "ghost", "blackout", "cover", "cut"],
                              p=[0.18, 0.1, 0.12, 0.17, 0.12, 0.05, 0.1, 0.06, 0.06, 0.04])
        angle = random.uniform(0, np.pi)
        if style in ("patch", "sealer", "pale"):
            colour = {"patch": palette.grey(random, 0.02, 0.2), "sealer": palette.grey(random, 0.012, 0.05),
                      "pale": palette.grey(random, 0.2, 0.4)}[style]
            identity = scene.new_ground(red=colour[0], green=colour[1], blue=colour[2],
                                        cover=random.uniform(0.6, 1.0), texture=random.uniform(0.3, 1.0))
            size = np.exp(random.uniform(np.log(200), np.log(reach)))
            if style == "pale" or random.random() < 0.5:  # a pale rectangle on the ground would be a stop line
                outline = shapes.blob(random, size / 2, random.uniform(0.02, 0.3))
            else:
                outline = shapes.rectangle(size, size * random.uniform(0.3, 2))[0][0]
            scene.draw(scene.ground, shapes.moved([[outline]], centre, angle), identity)
        elif style == "crumbled":
            _crumbled(scene, centre, reach)
        elif style == "stain":
            _stained(scene, centre, reach)
        elif style == "gutter":
            _gutter(scene, centre, angle)
        elif style in ("ghost", "blackout"):
            _ghost(scene, style, centre, angle)
        elif style == "cover":
            _drain_cover(scene, centre)
        else:
            _saw_cut(scene, centre, angle)


def _crumbled(scene, centre, reach):
    """Asphalt that has lost its binder: pale stones and dark holes with a ragged border, and bits beside it."""
    random = scene.random
    colour = palette.grey(random, 0.12, 0.45, 0.1) * (1.05, 1.0, 0.9)
    identity = scene.new_ground(red=colour[0], green=colour[1], blue=colour[2], cover=random.uniform(0.4, 0.95),
                                texture=random.uniform(0.8, 2.6))
    size = np.exp(random.uniform(np.log(100), np.log(reach / 2)))
    for _ in range(random.integers(1, 14)):
        ring = shapes.blob(random, size * random.uniform(0.1, 0.6), random.uniform(0.15, 0.5), 24)
        scene.draw(scene.ground, [[ring + centre + random.normal(0, size * 0.5, 2)]], identity)


def _stained(scene, centre, reach):
    """Rust, damp, bloom of lime, spilt mortar: faint patches over one another, ragged or round, darker or paler."""
    random = scene.random
    pale = random.random() < 0.4
    size = np.exp(random.uniform(np.log(80), np.log(reach / 2)))
    for _ in range(random.integers(1, 4)):
        colour = palette.grey(random, 0.25, 0.6, 0.08) if pale else palette.grey(random, 0.01, 0.2, 0.2) * (1.2, 1.0, 0.8)
        identity = scene.new_ground(red=colour[0], green=colour[1], blue=colour[2], cover=random.uniform(0.1, 0.55),
                                    texture=random.uniform(0.3, 1.5))
        for _ in range(random.integers(1, 7)):
            ring = shapes.blob(random, size * random.uniform(0.1, 0.7), random.uniform(0.05, 0.6), 40)
            scene.draw(scene.ground, [[ring + centre + random.normal(0, size * 0.4, 2)]], identity)


def _gutter(scene, centre, angle):
    """A strip of concrete along the asphalt, far longer and wider than a painted line."""
    random = scene.random
    colour = palette.grey(random, 0.18, 0.45)
    identity = scene.new_ground(red=colour[0], green=colour[1], blue=colour[2], cover=1.0, texture=random.uniform(0.15, 0.6))
    scene.draw(scene.ground, shapes.moved(shapes.rectangle(random.uniform(900, 2500), 120000), centre, angle), identity)


def _ghost(scene, style, centre, angle):
    """Trace of a removed marking: a change of the pavement itself, or black paint over it. Neither is a marking."""
    random = scene.random
    kind = str(random.choice(list(ONE_MARKING)))
    shade = random.uniform(0.015, 0.05) if style == "blackout" else random.uniform(0.05, 0.3)
    colour = np.full(3, shade) * np.exp(random.normal(0, 0.04, 3))
    identity = scene.new_ground(red=colour[0], green=colour[1], blue=colour[2], texture=random.uniform(0.6, 1.0),
                                cover=random.uniform(0.6, 0.95) if style == "blackout" else random.uniform(0.1, 0.35))
    scene.draw(scene.ground, shapes.moved(ONE_MARKING[kind](random), centre, angle), identity)


def _drain_cover(scene, centre):
    random = scene.random
    radius = random.uniform(120, 420)
    metal = palette.grey(random, 0.03, 0.2)
    rim = scene.new_ground(red=metal[0] * 0.4, green=metal[1] * 0.4, blue=metal[2] * 0.4, cover=1.0, texture=0.2)
    plate = scene.new_ground(red=metal[0], green=metal[1], blue=metal[2], cover=1.0, texture=0.3)
    scene.draw(scene.ground, [shapes.disc(centre, radius, 40)], rim)
    scene.draw(scene.ground, [shapes.disc(centre, radius * 0.93, 40)], plate)
    for k in range(-4, 5):
        half = np.sqrt(max(0.0, 0.8 - (k / 5) ** 2)) * radius
        scene.draw(scene.ground, shapes.moved(shapes.rectangle(half * 1.6, radius * 0.06), centre + (0, k * radius / 5)), rim)


def _saw_cut(scene, centre, angle):
    random = scene.random
    colour = palette.grey(random, 0.01, 0.06)
    identity = scene.new_ground(red=colour[0], green=colour[1], blue=colour[2], cover=0.9, texture=0.3)
    scene.draw(scene.ground, shapes.moved(shapes.rectangle(random.uniform(6, 30), 60000), centre, angle), identity)


def add_cracks(scene):
    """Single cracks and sealed cracks; some go through the paint, which is then lost by cracking."""
    random = scene.random
    for _ in range(random.choice([0, 1, 2, 4], p=[0.55, 0.2, 0.15, 0.1])):
        centre = _somewhere(scene)
        if centre is None:
            continue
        sealed = random.random() < 0.4
        width = random.uniform(25, 110) if sealed else random.uniform(2, 14)
        colour = palette.grey(random, 0.008, 0.05)
        if sealed and random.random() < 0.2:
            colour = palette.grey(random, 0.2, 0.45)
        identity = scene.new_ground(red=colour[0], green=colour[1], blue=colour[2], cover=0.95, texture=0.15 if sealed else 0.6)
        heading = random.uniform(0, 2 * np.pi) + np.cumsum(random.normal(0, 0.16, 40))
        path = centre + np.cumsum(np.stack([np.cos(heading), np.sin(heading)], 1) * random.uniform(60, 200), 0)
        crack = shapes.stroke(path, width)
        scene.draw(scene.ground, crack, identity)
        if random.random() < 0.75:
            through = np.zeros(scene.paint.shape, np.uint8)
            scene.draw(through, crack, 1)
            scene.paint[(through == 1) & (scene.paint > 0)] |= CRACKED_BIT


def add_litter(scene):
    """Leaves, paper, pebbles; and the tool's own scale sheet, which is to be taken for pavement."""
    random = scene.random
    if random.random() < 0.3:
        colours = [palette.grey(random, 0.05, 0.4, 0.35) for _ in range(4)]
        identities = [scene.new_thing(colour, not_ground=0, texture=0.3) for colour in colours]
        size = random.uniform(8, 70)
        for _ in range(random.integers(3, 50)):
            centre = _somewhere(scene)
            if centre is not None:
                leaf = shapes.blob(random, size * random.uniform(0.5, 1.3), 0.15, 14) + centre
                scene.draw(scene.thing, [[leaf]], int(random.choice(identities)))
    if random.random() < 0.12:
        _scale_sheet(scene)


def _scale_sheet(scene):
    random = scene.random
    centre = _somewhere(scene)
    if centre is None:
        return
    angle, size = random.uniform(0, np.pi), random.choice([1.0, 1.41])
    white = scene.new_thing(palette.grey(random, 0.7, 0.9, 0.02), not_ground=0, hides_paint=1)
    black = scene.new_thing((0.02, 0.02, 0.02), not_ground=0, hides_paint=1)

    def put_square(x, y, side, identity):
        at = centre + shapes.turned(np.array([[x, y]]) * size, angle)[0]
        scene.draw(scene.thing, shapes.moved(shapes.rectangle(side * size, side * size), at, angle), identity)
    scene.draw(scene.thing, shapes.moved(shapes.rectangle(210 * size, 297 * size), centre, angle), white)
    for x in (-1, 1):
        for y in (-1, 1):
            put_square(x * 70, y * 110, 50, black)
            for _ in range(5):
                put_square(x * 70 + random.integers(-2, 3) * 7, y * 110 + random.integers(-2, 3) * 7, 7, white)


def _somewhere(scene):
    return scene.ground_at(scene.random.uniform(-0.05, 1.05), scene.random.uniform(0.05, 1.05))


# ---- light, camera and everything that is one number a scene --------------------------------------------------------

def picture_parameters(scene):
    """Numbers for the renderer; textures are looked up at ground millimetres divided by the tile size."""
    random = scene.random
    numbers = pavement_numbers(random)
    numbers.update(light_numbers(random), **lens_numbers(random))
    numbers.update(
        shifts=random.uniform(0, 1, (8, 2)), angles=random.uniform(0, 2 * np.pi, 8),
        middle_tile=np.exp(random.uniform(np.log(250), np.log(2600))),
        flake_tile=np.exp(random.uniform(np.log(250), np.log(5000))),
        cells_tile=np.exp(random.uniform(np.log(1500), np.log(30000))),
        chips_tile=np.exp(random.uniform(np.log(150), np.log(3000))),
        cloud_tile=random.uniform(2500, 12000),
        flake_clusters=random.uniform(0.0, 0.8), exposed=np.exp(random.normal(0, 0.18)),
        rim=random.uniform(0, 0.5) if random.random() < 0.5 else 0.0,
        wheel_place=_wheel_place(scene), wheel_angle=random.uniform(0, np.pi), wheel_width=random.uniform(250, 700),
        wheel_pitch=random.uniform(1300, 1900))
    return numbers


def _wheel_place(scene):
    centre = _somewhere(scene)
    return np.zeros(2) if centre is None else centre


def pavement_numbers(random):
    style = random.choice(["grey", "black", "coarse", "ravelled", "concrete", "gravel", "blocks"],
                          p=[0.27, 0.13, 0.14, 0.08, 0.26, 0.05, 0.07])
    base, stone, height, fine, middle, cloud = {
        "grey": (palette.grey(random, 0.07, 0.3), 0.25, 0.25, 0.12, 0.05, 0.08),
        "black": (palette.grey(random, 0.015, 0.06), 0.25, 0.35, 0.2, 0.06, 0.09),
        "coarse": (palette.grey(random, 0.06, 0.26), 0.55, 0.45, 0.15, 0.06, 0.09),
        "ravelled": (palette.grey(random, 0.06, 0.2), 0.45, 0.8, 0.2, 0.25, 0.2),
        "concrete": (palette.grey(random, 0.16, 0.5), 0.04, 0.08, 0.06, 0.04, 0.09),
        "gravel": (palette.grey(random, 0.15, 0.4, 0.1), 0.5, 0.5, 0.2, 0.15, 0.15),
        "blocks": (palette.grey(random, 0.08, 0.35, 0.12), 0.08, 0.15, 0.1, 0.1, 0.12)}[style]
    amounts = np.array([stone, height, fine, middle, cloud]) * np.exp(random.normal(0, 0.35, 5))
    joint_pitch = (0.0, 0.0)
    if style == "concrete" and random.random() < 0.6:
        joint_pitch = random.uniform(1200, 6000, 2)
    if style == "blocks":
        joint_pitch = random.uniform(80, 300, 2)
    elif random.random() < 0.05:
        joint_pitch = (random.uniform(2500, 4500), 0.0)
    return dict(
        base=base, amounts=amounts, stone_tint=random.normal(0, 0.12, 3),
        stone_mm=random.uniform(4, 16) * (2 if style in ("gravel",) else 1),
        brushed=random.uniform(2, 6) if style == "concrete" and random.random() < 0.6 else 1.0,
        joint_pitch=np.asarray(joint_pitch), joint_width=random.uniform(3, 14) * (random.uniform(1, 2.2) if style == "blocks" else 1), joint_angle=random.uniform(0, np.pi),
        joint_shade=random.uniform(0.1, 0.9) if random.random() < 0.75 else random.uniform(1.1, 2.0),  # moss, or pale mortar
        joint_tone=random.uniform(0.1, 0.8), joint_stagger=float(random.random() < 0.5 and style == "blocks"),
        crack_width=random.uniform(1, 9) if random.random() < 0.28 else 0.0, crack_level=random.normal(0.2, 0.9),
        crack_shade=random.uniform(0.05, 0.5),
        crack_through=float(random.random() < 0.75), crack_flaking=random.uniform(0, 0.25) if random.random() < 0.4 else 0.0,
        spots=_spots(random), soil=random.uniform(0.1, 0.72) if random.random() < 0.38 else random.uniform(0, 0.08),
        soil_colour=palette.grey(random, 0.04, 0.25, 0.15) * (1.15, 1.0, 0.8), soil_level=random.normal(-0.3, 0.8),
        tyres=_tyres(random))


def _spots(random):
    """Oil, wet and bright blotches: relative place in the picture, radius, stretch, shade, opacity."""
    rows = np.zeros((4, 6), np.float32)
    for k in range(random.choice([0, 1, 2, 4], p=[0.42, 0.22, 0.18, 0.18])):
        bright = random.random() < 0.3
        rows[k] = (random.uniform(-0.1, 1.1), random.uniform(0.1, 1.1), np.exp(random.uniform(np.log(60), np.log(1500))),
                   np.exp(random.normal(0, 0.5)), random.uniform(0.3, 0.6) if bright else random.uniform(0.005, 0.06),
                   random.uniform(0.1, 0.6) if bright else random.uniform(0.2, 0.9))
    return rows


def _tyres(random):
    """Tyre tracks: offset from the wheel place, angle, curvature, width, darkening."""
    rows = np.zeros((2, 5), np.float32)
    for k in range(random.choice([0, 1, 2], p=[0.58, 0.22, 0.2])):
        rows[k] = (random.normal(0, 600), random.uniform(0, np.pi), random.normal(0, 1e-4), random.uniform(120, 260),
                   random.uniform(0.1, 0.7))
    return rows


def light_numbers(random):
    if random.random() < 0.1:
        return lamp_numbers(random)
    sunny = random.random() < 0.66
    sun = random.uniform(0.7, 1.3) if sunny else random.uniform(0.0, 0.1)
    # between tall buildings hardly any sky is seen: paint in such shade is darker than pavement in the sun
    sky = np.exp(random.uniform(np.log(0.08), np.log(0.45))) if sunny else random.uniform(0.5, 1.1)
    blueness = random.uniform(0.0, 0.5) if sunny else random.uniform(0, 0.15)
    warmth = random.uniform(0, 0.25)
    dappled = sunny and random.random() < 0.42
    return dict(
        sun_light=sun * np.array([1, 1 - 0.3 * warmth, 1 - 0.9 * warmth]),
        sky_light=sky * np.array([1 - 0.5 * blueness, 1 - 0.15 * blueness, 1.0]),
        relief=random.uniform(0.1, 0.7) if sunny else random.uniform(0, 0.15), relief_angle=random.uniform(0, 2 * np.pi),
        penumbra=random.uniform(0.3, 6), dapple=float(dappled), dapple_tile=random.uniform(2000, 9000),
        dapple_level=random.normal(0, 0.7), dapple_soft=random.uniform(0.02, 0.6), dapple_fine=random.uniform(0, 0.9),
        gloss=random.uniform(0, 0.15), lamp_place=np.zeros(2), lamp_reach=np.array(1.0), lamp_share=np.array(0.0))


def lamp_numbers(random):
    """Night: one lamp's pool of light on the ground and little else."""
    tint = np.array([1, random.uniform(0.6, 1.0), random.uniform(0.25, 0.95)])
    level = np.exp(random.uniform(np.log(0.1), np.log(0.6)))
    return dict(
        sun_light=level * tint, sky_light=level * random.uniform(0.05, 0.5) * tint, relief=random.uniform(0.1, 0.7),
        relief_angle=random.uniform(0, 2 * np.pi), penumbra=random.uniform(0.3, 6), dapple=np.array(0.0),
        dapple_tile=np.array(4000.0), dapple_level=np.array(0.0), dapple_soft=np.array(0.3), dapple_fine=np.array(0.0),
        gloss=random.uniform(0, 0.15), lamp_place=random.uniform(-0.3, 1.3, 2),
        lamp_reach=np.exp(random.uniform(np.log(1500), np.log(9000))), lamp_share=random.uniform(0.5, 1.0))


def lens_numbers(random):
    blur = abs(random.normal(0.25, 0.25)) if random.random() < 0.8 else random.uniform(0.5, 1.6)
    return dict(
        exposure=np.exp(random.normal(0, 0.38)), vignette=random.uniform(0, 0.45) if random.random() < 0.6 else 0.0,
        gradient=random.normal(0, 0.25, 2) if random.random() < 0.4 else np.zeros(2),
        blur=blur, motion=random.uniform(0.5, 3.5) if random.random() < 0.12 else 0.0, motion_angle=random.uniform(0, np.pi),
        noise=random.uniform(0, 0.02) if random.random() < 0.8 else random.uniform(0.02, 0.05),
        sharpen=random.uniform(0, 1.2) if random.random() < 0.5 else 0.0,
        contrast=random.normal(0, 0.35), white_balance=np.exp(random.normal(0, 0.07, 3)),
        saturation=np.clip(random.normal(1.0, 0.2), 0.3, 1.6) if random.random() < 0.93 else 0.0,
        lift=random.uniform(0, 0.06) if random.random() < 0.3 else 0.0,
        jpeg=random.uniform(25, 92) if random.random() < 0.6 else 100.0)


def make_scene(seed, width, height):
    """Everything that the renderer needs for one picture, as a dict of numpy arrays."""
    scene = Scene(seed, width, height)
    random = scene.random
    add_ground_features(scene)
    if random.random() < 0.88:
        add_markings(scene)
    add_cracks(scene)
    add_litter(scene)
    things.add_things(scene)
    camera = scene.camera
    numbers = picture_parameters(scene)
    numbers.update(
        focal=camera.focal_px, centre=np.asarray(camera.centre), radial=camera.radial, rotation=camera.rotation,
        camera_height=camera.height_mm)
    packed = {name: np.asarray(value, np.float32) for name, value in numbers.items()}
    packed.update(
        paint=scene.paint, under=scene.under, ground=scene.ground, thing=scene.thing,
        shadow=scene.shadow[::SUPERSAMPLING, ::SUPERSAMPLING].copy(),
        paint_table=_table(scene.paint_rows, PAINT_IDS), under_table=_table(scene.under_rows, PAINT_IDS),
        ground_table=_table(scene.ground_rows, GROUND_IDS), thing_table=_table(scene.thing_rows, THING_IDS))
    return packed


def _table(rows, count):
    table = np.zeros((count, len(rows[0])), np.float32)
    table[:len(rows)] = rows
    return table
