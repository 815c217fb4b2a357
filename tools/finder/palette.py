"""Colours in linear light, 0..1, and the names of the per-identity parameter columns that scene and renderer share."""
import numpy as np

PAINTS = ("white", "yellow", "blue", "red", "green")


def paint(random, name):
    """A coat of the named colour; the ranges hold fresh to chalked pigments (from memory)."""
    low, high = {
        "white": ((0.50, 0.50, 0.46), (0.88, 0.87, 0.84)),
        "yellow": ((0.50, 0.30, 0.02), (0.82, 0.56, 0.12)),
        "blue": ((0.01, 0.06, 0.22), (0.10, 0.24, 0.60)),
        "red": ((0.28, 0.02, 0.02), (0.60, 0.09, 0.08)),
        "green": ((0.02, 0.16, 0.05), (0.14, 0.42, 0.22)),
    }[name]
    mix = np.clip(random.uniform(0, 1) + random.normal(0, 0.12, 3), 0, 1)
    return np.asarray(low) + mix * (np.asarray(high) - np.asarray(low))


def grey(random, low, high, tint=0.05):
    return random.uniform(low, high) * np.exp(random.normal(0, tint, 3))


class Second:
    """A thing's second colour: `pattern` of PATTERNS, `level` in standard deviations (above it lies the second colour), `soft`
    width of the border in the same unit, `size` of the pattern (1: a tile is about a third of the picture)."""

    def __init__(self, colour=(0.0, 0.0, 0.0), pattern="clouds", level=None, soft=0.3, size=1.0):
        self.values = dict(red2=colour[0], green2=colour[1], blue2=colour[2], pattern=PATTERNS.index(pattern),
                           level=NO_SECOND if level is None else level, soft=soft, size=size)

    def columns(self):
        return self.values


def faded(colour, amount):
    """Fading darkens and greys the whole coat; it never mixes the pavement in, which is what abrasion does."""
    luminance = colour @ np.array([0.21, 0.72, 0.07])
    return (colour + 0.7 * amount * (luminance - colour)) * (1 - 0.45 * amount)


class Columns:
    """Gives each parameter of a table its column."""

    def __init__(self, *names):
        self.index = {name: k for k, name in enumerate(names)}
        self.count = len(names)

    def row(self, **values):
        row = np.zeros(self.count, np.float32)
        for name, value in values.items():
            row[self.index[name]] = value
        return row


PAINT = Columns("red", "green", "blue", "kind", "abrasion", "by_stone", "by_patch", "by_wheel", "flaking", "chips",
                "texture", "older_loss")
GROUND = Columns("red", "green", "blue", "cover", "texture")
THING = Columns("red", "green", "blue", "not_ground", "texture", "lit", "hides_paint",
                "red2", "green2", "blue2", "pattern", "level", "soft", "size", "lean")
PATTERNS = ("clouds", "blocks", "leaves", "rough", "grid")  # how a thing's second colour lies among the first
NO_SECOND = 9.0  # a level that no pattern reaches
PAINT_IDS, GROUND_IDS, THING_IDS = 64, 128, 256
PEELED_BIT, CRACKED_BIT = 64, 128
