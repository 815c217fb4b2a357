"""Everything that is not flat pavement: background, verges, curbs, cars, cones, people, burnt-in text; and cast shadows.

The things are the finder's negatives: white, yellow and striped on purpose, so that colour alone is no proof of paint.
"""
import numpy as np

import clutter
import palette
import raster
import shapes
from network import KINDS

FONT = shapes.FONTS[0]
TOP_SHADE, BRIGHT_SIDE, DARK_SIDE = 1.0, 0.75, 0.4


def add_things(scene):
    random = scene.random
    add_background(scene)
    clutter.add_clutter(scene)
    if random.random() < 0.22:
        add_curb(scene)
    if scene.verge or random.random() < 0.12:
        add_verge(scene)
    add_solids(scene)
    clutter.add_racks(scene)
    add_loose_shadows(scene)
    if random.random() < 0.12:
        add_foreground(scene)
    if random.random() < 0.1:
        burn_in_text(scene)


def any_colour(random):
    """White, grey, traffic yellow and orange come more often than they do in life."""
    pick = random.random()
    if pick < 0.3:
        return palette.grey(random, 0.5, 0.9, 0.04)
    if pick < 0.5:
        return palette.grey(random, 0.02, 0.5, 0.06)
    if pick < 0.65:
        return palette.paint(random, "yellow")
    if pick < 0.75:
        return np.array([random.uniform(0.5, 0.8), random.uniform(0.08, 0.22), 0.02])
    return random.uniform(0.02, 0.6, 3)


def green(random):
    return np.array([random.uniform(0.04, 0.16), random.uniform(0.07, 0.24), random.uniform(0.01, 0.06)])


# ---- background -----------------------------------------------------------------------------------------------------

def add_background(scene):
    """Sky, then upright walls, hedges and trees where the ground ends."""
    random = scene.random
    corners = [scene.ground_at(x, y) for x in (0.0, 0.5, 1.0) for y in (0.0, 1.0)]
    far = np.exp(random.uniform(np.log(7000), np.log(60000)))
    if all(corner is not None and np.hypot(*corner) < far for corner in corners):
        return
    sky = np.array([0.75, 0.85, 1.0]) * random.uniform(0.6, 1.6)
    cloud = palette.Second(palette.grey(random, 0.5, 1.6, 0.03), "clouds", random.uniform(-1, 1.5), random.uniform(0.1, 1.2),
                           random.uniform(0.6, 4))
    scene.thing[:] = scene.new_thing(sky, texture=random.uniform(0, 0.2), second=cloud, lean=random.normal(0, 0.5))
    left = -far * 2
    while left < far * 2:
        width = far * random.uniform(0.15, 1.5)
        _wall(scene, far + random.uniform(0, 2000), left, left + width)
        left += width
    for part in ([(-9e4, -2e4), (9e4, -2e4), (9e4, far), (-9e4, far)],):
        scene.draw(scene.thing, [[np.array(part)]], 0)


def _wall(scene, y, left, right):
    random = scene.random
    style = random.choice(["hedge", "wall", "none"], p=[0.37, 0.5, 0.13])
    if style == "none":
        return
    height = random.uniform(500, 9000)
    if style == "hedge":
        look = foliage(scene)
    else:
        bricks = palette.Second(any_colour(random) * random.uniform(0.3, 1), str(random.choice(["grid", "blocks", "clouds"])),
                                random.uniform(0, 1.8), random.uniform(0.05, 0.5), np.exp(random.uniform(np.log(0.1), np.log(2))))
        look = scene.new_thing(any_colour(random) * random.uniform(0.4, 1), texture=0.15,
                               second=bricks if random.random() < 0.6 else None)
    scene.draw_solid(scene.thing, _upright(left, right, y, 0, height), look)
    if style == "wall":
        for _ in range(random.integers(0, 12)):
            x, z = random.uniform(left, right), random.uniform(0, height)
            size = random.uniform(200, 2000, 2)
            # what stands behind a shop's window, or is mirrored in it
            behind = palette.Second(any_colour(random), str(random.choice(["clouds", "blocks", "grid"])), random.uniform(-0.5, 1.5),
                                    random.uniform(0.03, 0.5), np.exp(random.uniform(np.log(0.15), np.log(2))))
            scene.draw_solid(scene.thing, _upright(x, x + size[0], y - 1, z, min(height, z + size[1])),
                             scene.new_thing(any_colour(random), texture=0.05, second=behind if random.random() < 0.5 else None))


def _upright(left, right, y, bottom, top):
    return [(left, y, bottom), (right, y, bottom), (right, y, top), (left, y, top)]


def add_verge(scene):
    """Grass, soil or bright gravel to one side of the pavement."""
    random = scene.random
    start = scene.ground_at(random.uniform(0, 1), random.uniform(0.1, 0.9))
    angle = random.normal(0, 0.4) + random.choice([0, np.pi])
    if scene.verge:
        start, angle = scene.verge
    if start is None or scene.ground_at(0.5, 0.9) is None:
        return
    if random.random() < 0.7:
        look = foliage(scene)
    else:
        look = scene.new_thing(palette.grey(random, 0.1, 0.5, 0.12) * (1.15, 1, 0.8), texture=random.uniform(0.5, 1))
    y = np.arange(-40000, 60001, 500.0)
    edge = np.stack([random.normal(0, 40, len(y)), y], 1)
    ring = np.vstack([edge, [(90000, 60000), (90000, -40000)]])
    before_lens = scene.ground_at(0.5, 0.9)
    if shapes.turned((before_lens - start)[None], -angle)[0, 0] > 0:  # the photographer stands on the pavement
        angle += np.pi
    scene.draw(scene.thing, shapes.moved([[ring]], start, angle), look)


def add_curb(scene):
    """A raised kerb with what lies behind it; a third of them are painted along some stretch."""
    random = scene.random
    base = scene.ground_at(random.uniform(0.1, 0.9), random.uniform(0.15, 0.8))
    if base is None:
        return
    height, width = random.uniform(80, 190), random.uniform(90, 220)
    angle = random.choice([random.normal(np.pi / 2, 0.3), random.normal(0, 0.4), random.uniform(0, np.pi)])
    along = np.array([-np.sin(angle), np.cos(angle)])
    away = np.array([along[1], -along[0]])
    if away @ base < 0:
        away = -away
    concrete = palette.grey(random, 0.2, 0.5)
    reach = 40000

    def plate(start, end, near, depth, z0, z1):
        return [np.append(base + along * t + away * d, z) for t, d, z in
                ((start, near, z0), (end, near, z0), (end, depth, z1), (start, depth, z1))]
    behind = foliage(scene) if random.random() < 0.5 else scene.new_thing(palette.grey(random, 0.15, 0.5), texture=0.7)
    scene.draw_solid(scene.thing, plate(-reach, reach, width, 40000, height, height), behind)
    faces = [(0, 0, 0, height, BRIGHT_SIDE if random.random() < 0.5 else DARK_SIDE), (0, width, height, height, TOP_SHADE)]
    for near, depth, z0, z1, shade in faces:
        scene.draw_solid(scene.thing, plate(-reach, reach, near, depth, z0, z1),
                         scene.new_thing(concrete * shade, texture=0.25))
    if random.random() < 0.35:
        start = random.uniform(-4000, 0)
        end = start + random.uniform(1500, 9000)
        _paint_curb(scene, [plate(start, end, near, depth, z0, z1) for near, depth, z0, z1, _ in faces],
                    [shade for *_, shade in faces], concrete)


def _paint_curb(scene, faces, shades, concrete):
    random = scene.random
    colour = palette.paint(random, str(random.choice(["red", "yellow", "white", "blue"], p=[0.4, 0.42, 0.1, 0.08])))
    loss = -1.2 + random.exponential(0.9)
    for corners, shade in zip(faces, shades):
        paint = scene.new_paint(colour * shade, kind=KINDS.index("curb"), abrasion=loss, by_stone=0.6, by_patch=1.0,
                                flaking=random.normal(-1.6, 0.7), chips=random.uniform(0, 1), texture=0.3)
        bare = concrete * shade
        ground = scene.new_ground(red=bare[0], green=bare[1], blue=bare[2], cover=1.0, texture=0.4)
        for target, value in ((scene.thing, 0), (scene.under, 0), (scene.ground, ground), (scene.paint, paint)):
            scene.draw_solid(target, corners, value)


# ---- solids ---------------------------------------------------------------------------------------------------------

def add_solids(scene):
    random = scene.random
    makers = [car, box, cylinder, cone, pole_with_sign, person, wheel_stop, hydrant, bump, board, bush]
    chances = np.array([0.16, 0.1, 0.08, 0.11, 0.12, 0.05, 0.08, 0.05, 0.04, 0.1, 0.16])
    places = []
    if scene.is_near and random.random() < 0.7:
        return
    if random.random() < 0.05:
        row_of_cars(scene)
    for _ in range(random.choice([0, 1, 2, 4], p=[0.28, 0.27, 0.27, 0.18])):
        place = scene.ground_at(random.uniform(0, 1), random.uniform(0.0, 0.85))
        if place is not None and 1500 < np.hypot(*place) < 40000:
            places.append(place)
    for place in sorted(places, key=lambda p: -np.hypot(*p)):
        makers[random.choice(len(makers), p=chances / chances.sum())](scene, place)


def prism(scene, outline, bottom, top, colour, texture=0.08, taper=1.0, shadow=True):
    """Upright prism or frustum over a convex ground outline: the faces turned to the camera, each with its own shade."""
    outline = np.asarray(outline, float)
    centre = outline.mean(0)
    upper = centre + (outline - centre) * taper
    clockwise = _signed_area(outline) < 0
    if clockwise:
        outline, upper = outline[::-1], upper[::-1]
    sun = scene.sun / max(np.hypot(*scene.sun), 1e-6)
    for a, b, c, d in zip(outline, np.roll(outline, -1, 0), np.roll(upper, -1, 0), upper):
        normal = np.array([b[1] - a[1], a[0] - b[0]])
        normal /= max(np.hypot(*normal), 1e-6)
        corners = [(*a, bottom), (*b, bottom), (*c, top), (*d, top)]
        if shadow:
            scene.cast_shadow(corners)
        if normal @ -((a + b) / 2) > 0:
            shade = DARK_SIDE + (BRIGHT_SIDE - DARK_SIDE) * max(0.0, normal @ -sun)
            scene.draw_solid(scene.thing, corners, scene.new_thing(colour * shade, texture=texture))
    if scene.camera.height_mm > top:
        scene.draw_solid(scene.thing, np.column_stack([upper, np.full(len(upper), top)]),
                         scene.new_thing(colour * TOP_SHADE, texture=texture))
    if shadow:
        scene.cast_shadow(np.column_stack([upper, np.full(len(upper), top)]))


def _signed_area(ring):
    following = np.roll(ring, -1, 0)
    return (ring[:, 0] * following[:, 1] - ring[:, 1] * following[:, 0]).sum() / 2


def _footprint(width, length, place, angle):
    return shapes.moved(shapes.rectangle(width, length), place, angle)[0][0]


def _round(place, radius, corners=9):
    return shapes.disc(place, radius, corners)[0]


def car(scene, place):
    random = scene.random
    angle = random.choice([0.0, np.pi / 2]) + random.normal(0, 0.25)
    place = place + np.array([0, random.uniform(800, 2500)])
    width, length, colour = random.uniform(1650, 1950), random.uniform(3800, 5000), any_colour(random)
    dark = np.full(3, 0.012)
    scene.draw(scene.shadow, [[_footprint(width, length, place, angle)]], 255)
    for x in (-1, 1):
        for y in (-1, 1):
            spot = place + shapes.turned(np.array([[x * (width / 2 - 110), y * length * 0.3]]), angle)[0]
            prism(scene, _footprint(220, 640, spot, angle), 0, 600, dark, shadow=False)
    prism(scene, _footprint(width, length, place, angle), 200, random.uniform(700, 900), colour, texture=0.15)
    cabin = place + shapes.turned(np.array([[0, random.uniform(-300, 300)]]), angle)[0]
    prism(scene, _footprint(width * 0.92, length * 0.62, cabin, angle), 800, 1350, palette.grey(random, 0.01, 0.12), taper=0.8)
    prism(scene, _footprint(width * 0.74, length * 0.48, cabin, angle), 1350, 1450, colour, texture=0.1)
    for end in (-1, 1):
        spot = place + shapes.turned(np.array([[0, end * length / 2]]), angle)[0]
        prism(scene, _footprint(520, 30, spot, angle), 380, 500, palette.grey(random, 0.6, 0.9), shadow=False)


def row_of_cars(scene):
    """A full lot: parked side by side across the picture, farthest first."""
    random = scene.random
    place = scene.ground_at(random.uniform(0, 1), random.uniform(0.1, 0.6))
    if place is None or not 4000 < np.hypot(*place) < 60000:
        return
    along = shapes.turned(np.array([[random.uniform(2400, 2900), 0.0]]), random.normal(0, 0.2))[0]
    spots = [place + along * k for k in range(-4, 5) if random.random() < 0.75]
    for spot in sorted(spots, key=lambda p: -np.hypot(*p)):
        if spot[1] > 3000:
            car(scene, spot)


def box(scene, place):
    random = scene.random
    width, length, height = random.uniform(150, 1500), random.uniform(150, 2500), random.uniform(250, 1600)
    angle = random.uniform(0, np.pi)
    prism(scene, _footprint(width, length, place, angle), 0, height, any_colour(random), texture=random.uniform(0, 0.3))


def cylinder(scene, place):
    """Barrel, bollard or bin, with bands now and then."""
    random = scene.random
    radius, height = random.uniform(60, 330), random.uniform(400, 1200)
    bands = random.integers(1, 5)
    colours = [any_colour(random), any_colour(random)]
    for k in range(bands):
        prism(scene, _round(place, radius), height * k / bands, height * (k + 1) / bands, colours[k % 2])


def cone(scene, place):
    random = scene.random
    orange = np.array([random.uniform(0.5, 0.8), random.uniform(0.07, 0.18), 0.02])
    base, height = random.uniform(130, 220), random.uniform(350, 1000)
    prism(scene, _footprint(base * 2, base * 2, place, random.uniform(0, 1.5)), 0, 30, orange)
    cuts = np.array([0.0, 0.35, 0.6, 0.75, 1.0])
    for k in range(4):
        wide, narrow = base * 0.75 * (1 - 0.85 * cuts[k]), base * 0.75 * (1 - 0.85 * cuts[k + 1])
        colour = palette.grey(random, 0.6, 0.9) if k == 1 or k == 3 and base > 180 else orange
        prism(scene, _round(place, wide), 30 + height * cuts[k], 30 + height * cuts[k + 1], colour, taper=narrow / wide)


def pole_with_sign(scene, place):
    random = scene.random
    height, radius = random.uniform(1500, 6000), random.uniform(25, 110)
    colour = palette.grey(random, 0.1, 0.7) if random.random() < 0.5 else any_colour(random)
    prism(scene, _round(place, radius, 6), 0, height, colour)
    if random.random() < 0.6:
        half, tall = random.uniform(120, 400), random.uniform(200, 700)
        low = random.uniform(600, height)
        scene.draw_solid(scene.thing, _upright(place[0] - half, place[0] + half, place[1] - radius - 5, low, low + tall),
                         scene.new_thing(any_colour(random)))


def person(scene, place):
    random = scene.random
    clothes, trousers = any_colour(random), any_colour(random) * 0.6
    for side in (-1, 1):
        prism(scene, _round(place + (side * 110, random.normal(0, 120)), 85, 6), 0, 850, trousers)
    prism(scene, _round(place, 230, 8), 820, 1450, clothes, taper=0.8)
    prism(scene, _round(place, 105, 8), 1480, 1750, np.array([0.35, 0.2, 0.13]) * random.uniform(0.3, 1.4))


def wheel_stop(scene, place):
    """A low block across a stall, bare or painted: a thing, not a marking."""
    random = scene.random
    angle = np.pi / 2 + random.normal(0, 0.3) if random.random() < 0.6 else random.uniform(0, np.pi)
    pick = random.random()
    colour = (palette.grey(random, 0.15, 0.45) if pick < 0.76 else any_colour(random) if pick < 0.84 else
              palette.paint(random, str(random.choice(["yellow", "white", "blue"], p=[0.5, 0.35, 0.15]))))
    prism(scene, _footprint(random.uniform(120, 200), random.uniform(900, 1900), place, angle), 0, random.uniform(80, 160),
          colour, texture=0.25, taper=0.93)


def board(scene, place):
    """A notice with letters or pictures on it, on legs or on the ground."""
    random = scene.random
    width, height = random.uniform(300, 3500), random.uniform(250, 2200)
    low = random.choice([0.0, random.uniform(100, 1500)])
    ground, ink = any_colour(random), any_colour(random)
    look = scene.new_thing(ground, texture=random.uniform(0, 0.2), lean=random.normal(0, 0.4),
                           second=palette.Second(ink, str(random.choice(["blocks", "grid"])), random.uniform(-0.3, 1.6),
                                                 random.uniform(0.03, 0.2), np.exp(random.uniform(np.log(0.2), np.log(1.5)))))
    scene.draw_solid(scene.thing, _upright(place[0] - width / 2, place[0] + width / 2, place[1], low, low + height), look)
    scene.cast_shadow(_upright(place[0] - width / 2, place[0] + width / 2, place[1], low, low + height))
    if random.random() < 0.5:
        frame = scene.new_thing(any_colour(random))
        for x in (-width / 2, width / 2 - 60):
            scene.draw_solid(scene.thing, _upright(place[0] + x, place[0] + x + 60, place[1] - 5, 0, low + height), frame)


def bush(scene, place):
    """A shrub, a tuft or a heap of leaves: ragged, with light between the leaves."""
    random = scene.random
    base = scene.camera.project(np.array([[*place, 0.0], [place[0] + 100.0, place[1], 0.0], [place[0], place[1] + 100.0, 0.0]]))
    if base is None or len(base) < 3:
        return
    per_mm = np.hypot(*(base[1] - base[0])) / 100
    radius = np.exp(random.uniform(np.log(120), np.log(1600)))
    look = foliage(scene)
    for _ in range(random.integers(1, 5)):
        ring = shapes.blob(random, radius * random.uniform(0.4, 1.0) * per_mm, random.uniform(0.12, 0.4), 40)
        shift = random.normal(0, radius * per_mm * 0.5, 2) - (0, radius * per_mm * 0.7)
        raster.fill(scene.thing, [ring + base[0] + shift], look)
    scene.draw(scene.shadow, [[shapes.blob(random, radius, 0.3) + place + scene.sun * radius * 0.7]], 255)


def foliage(scene):
    """Leaves in two shades, green or dry, over dark gaps. White and grey speckles are left to worn paint."""
    random = scene.random
    leaf = green(random) * random.uniform(0.5, 1.3)
    if random.random() < 0.3:  # straw, dry grass
        leaf = random.uniform(0.12, 0.35) * np.array([1.0, random.uniform(0.75, 0.9), random.uniform(0.3, 0.55)])
    gap = leaf * random.uniform(0.05, 0.5) if random.random() < 0.75 else leaf * random.uniform(1.3, 2)
    second = palette.Second(gap, str(random.choice(["leaves", "rough", "clouds", "blocks"], p=[0.4, 0.3, 0.2, 0.1])),
                            random.uniform(-0.5, 1.8), random.uniform(0.05, 0.6), np.exp(random.uniform(np.log(0.08), np.log(1.5))))
    return scene.new_thing(leaf, texture=random.uniform(0.4, 1.1), second=second)


def hydrant(scene, place):
    random = scene.random
    colour = any_colour(random)
    for radius, bottom, top in ((160, 0, 60), (110, 60, 520), (150, 520, 560), (120, 560, 680), (50, 680, 740)):
        prism(scene, _round(place, radius), bottom, top, colour)
    prism(scene, _footprint(380, 90, place, random.uniform(0, 3)), 380, 470, colour)


def bump(scene, place):
    """Rubber bump or kerb blocks in alternating colours."""
    random = scene.random
    angle = np.pi / 2 + random.normal(0, 0.5)
    along = np.array([-np.sin(angle), np.cos(angle)])
    block, depth, height = random.uniform(250, 600), random.uniform(180, 500), random.uniform(70, 200)
    colours = [palette.grey(random, 0.02, 0.1), palette.paint(random, str(random.choice(["yellow", "white"])))]
    for k in range(-5, 6):
        prism(scene, _footprint(depth, block, place + along * k * block, angle), 0, height, colours[k % 2], texture=0.1)


# ---- shadows of things outside the picture --------------------------------------------------------------------------

def add_loose_shadows(scene):
    random = scene.random
    for _ in range(random.choice([0, 1, 2, 3], p=[0.2, 0.42, 0.23, 0.15] if scene.is_near else [0.35, 0.35, 0.18, 0.12])):
        centre = scene.ground_at(random.uniform(-0.1, 1.1), random.uniform(0.0, 1.1))
        if centre is None:
            continue
        style = random.choice(["pole", "half", "roof", "blob", "body"], p=[0.2, 0.28, 0.2, 0.16, 0.16])
        if style == "pole":
            shape = shapes.rectangle(random.uniform(20, 300), 60000)
        elif style == "half":
            shape = [[np.array([(0, -60000), (60000, -60000), (60000, 60000), (0, 60000)], float)]]
        elif style == "roof":
            shape = shapes.rectangle(random.uniform(1500, 9000), random.uniform(800, 5000))
        elif style == "blob":
            shape = [[shapes.blob(random, random.uniform(200, 2500), random.uniform(0.05, 0.3))]]
        else:
            shape = shapes.rectangle(random.uniform(250, 500), 1800) + [shapes.disc((0, 1050), 140)]
        scene.draw(scene.shadow, shapes.moved(shape, centre, random.uniform(0, 2 * np.pi)), 255)


# ---- drawn straight into the picture --------------------------------------------------------------------------------

def add_foreground(scene):
    """The photographer's shoes, or a bonnet, at the lower edge."""
    random = scene.random
    height, width = scene.thing.shape
    reflection = palette.Second(np.array([0.8, 0.9, 1.0]) * random.uniform(0.2, 1.2), "clouds", random.uniform(-0.5, 1.8),
                                random.uniform(0.1, 1.0), random.uniform(0.5, 4))
    colour = scene.new_thing(any_colour(random) * random.uniform(0.2, 1), texture=0.15, second=reflection,
                             lean=random.normal(0, 1.2))
    if random.random() < 0.6:
        x = np.linspace(-0.1, 1.1, 40)
        rise = random.uniform(0.03, 0.3) * (1 - ((x - random.uniform(0.3, 0.7)) / 0.75) ** 2)
        ring = np.vstack([np.stack([x * width, (1 - rise) * height], 1), [(1.2 * width, 1.2 * height), (-0.2 * width, 1.2 * height)]])
        raster.fill(scene.thing, [ring], colour)
        return
    middle, size = random.uniform(0.2, 0.8) * width, random.uniform(0.04, 0.1) * width
    for side in (-1, 1):
        raster.fill(scene.thing, [shapes.blob(random, size, 0.05) + (middle + side * size * 1.6, height)], colour)


def burn_in_text(scene):
    """Date stamp or caption: letters over the picture, on a plate now and then."""
    random = scene.random
    height, width = scene.thing.shape
    text = str(random.choice(["2026-04-11 09:02", "LOT A", "12/05/19", "IMG 0412", "CAM 2", "07:45:01", "SITE WALK", "No 17"]))
    size = random.uniform(0.02, 0.07) * height
    rings = [ring * (size / 730, -size / 730) for ring in shapes.letters(text, FONT)]
    low, high = shapes.extent([rings])
    room = np.maximum((width, height) - (high - low), 1)
    offset = random.choice([0.03, 0.97, random.uniform(0, 1)]) * room[0], random.choice([0.04, 0.96]) * room[1]
    if random.random() < 0.3:
        pad = size * 0.3
        (x0, y0), (x1, y1) = np.array(offset) - pad, np.array(offset) + (high - low) + pad
        raster.fill(scene.thing, [np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])],
                    scene.new_thing(random.uniform(0, 0.1, 3), lit=0))
    letters = scene.new_thing(random.choice([0.9, 0.02]) * np.ones(3) if random.random() < 0.6 else any_colour(random), lit=0)
    raster.fill(scene.thing, [ring - low + offset for ring in rings], letters)
