"""Tileable noise for pavement and wear, kept as stacks of ever stronger blur so that distance is filtered right.

A look-up also says how much of a texture's spread the blur took away: a threshold on the texture is then softened by just
that much, which turns wear that is finer than a pixel into its expected share of the pixel.
"""
import math

import torch
import torch.nn.functional as F

SIZE, LEVELS = 1024, 9
STONES_ACROSS, CELLS_ACROSS = 64, 24  # stones and cells along one tile


class Texture:
    """Channels looked up together: 1 x C x levels x (SIZE + 1)^2, the last row and column repeat the first."""

    def __init__(self, channels):
        levels = [channels] + [_blurred(channels, 0.55 * 2 ** level) for level in range(1, LEVELS)]
        stack = torch.stack(levels, 1)
        self.lost = torch.stack([(channels - level).flatten(1).std(1) for level in levels])
        self.stack = F.pad(stack[None], (0, 1, 0, 1, 0, 0), mode="circular").contiguous()

    def look(self, ground, per_pixel, tile, shift, angle, stretch=None):
        """ground N x H x W x 2 mm, per_pixel N x H x W mm; tile, angle N; shift N x 2 -> values, blur level."""
        cosine, sine = (angle.cos() / tile)[:, None, None], (angle.sin() / tile)[:, None, None]
        u = ground[..., 0] * cosine + ground[..., 1] * sine + shift[:, 0, None, None]
        v = ground[..., 1] * cosine - ground[..., 0] * sine + shift[:, 1, None, None]
        if stretch is not None:
            v = v / stretch[:, None, None]
        level = (per_pixel * (SIZE / tile)[:, None, None]).clamp(min=1.0).log2().clamp(max=LEVELS - 1)
        place = torch.stack([u - u.floor(), v - v.floor(),
                             level / (LEVELS - 1)], -1) * 2 - 1
        stack = self.stack.expand(len(ground), -1, -1, -1, -1)
        return F.grid_sample(stack, place[:, None], mode="bilinear", padding_mode="border", align_corners=True)[:, :, 0], level

    def spread_lost(self, level, channel):
        """Standard deviation that the blur took from a channel."""
        table = self.lost[:, channel]
        low = level.floor().long().clamp(max=LEVELS - 2)
        share = level - low
        return table[low] * (1 - share) + table[low + 1] * share


class Bank:
    """All textures of one seed."""

    def __init__(self, seed, device):
        random = torch.Generator(device=device).manual_seed(seed)
        self.grain = Texture(_grain(random, device))
        self.clouds = Texture(torch.stack([_fractal(random, device, slope) for slope in (1.3, 1.15, 1.5)]))
        self.middle = Texture(torch.stack([_fractal(random, device, slope) for slope in (0.8, 1.0, 0.5)]))
        self.flakes = Texture(torch.stack([_fractal(random, device, slope) for slope in (1.6, 1.35)]))
        self.cells = Texture(_cells(random, device))


def _frequency(device):
    f = torch.fft.fftfreq(SIZE, 1 / SIZE, device=device)
    return (f[:, None] ** 2 + f[None] ** 2).sqrt()


def _blurred(channels, sigma):
    transfer = torch.exp(-2 * (math.pi * sigma / SIZE * _frequency(channels.device)) ** 2)
    return torch.fft.ifft2(torch.fft.fft2(channels) * transfer).real


def _standard(field):
    return (field - field.mean()) / field.std()


def _fractal(random, device, slope):
    """1/f noise; `slope` is that of the amplitude. Waves longer than half a tile are left out, they would show the tiling."""
    white = torch.randn(SIZE, SIZE, generator=random, device=device)
    f = _frequency(device)
    transfer = torch.where(f > 1.5, f.clamp(min=1) ** -slope, torch.zeros_like(f))
    return _standard(torch.fft.ifft2(torch.fft.fft2(white) * transfer).real)


def _voronoi(random, device, across):
    """Distances to the nearest and second nearest centre (in cells) and the nearest cell's index."""
    centres = torch.rand(across, across, 2, generator=random, device=device)
    axis = (torch.arange(SIZE, device=device) + 0.5) / SIZE * across
    y, x = torch.meshgrid(axis, axis, indexing="ij")
    first = torch.full_like(x, 9.0)
    second = torch.full_like(x, 9.0)
    nearest = torch.zeros_like(x, dtype=torch.long)
    for dy in (-2, -1, 0, 1, 2):
        for dx in (-2, -1, 0, 1, 2):
            row, column = y.floor().long() + dy, x.floor().long() + dx
            index = (row % across) * across + column % across
            centre = centres.view(-1, 2)[index]
            distance = ((x - column - centre[..., 0]) ** 2 + (y - row - centre[..., 1]) ** 2).sqrt()
            nearer = distance < first
            second = torch.where(nearer, first, torch.minimum(second, distance))
            nearest = torch.where(nearer, index, nearest)
            first = torch.where(nearer, distance, first)
    return first, second, nearest


def _grain(random, device):
    """Stone value, height, slope in x and y, fine grain."""
    first, second, nearest = _voronoi(random, device, STONES_ACROSS)
    value = torch.randn(STONES_ACROSS ** 2, generator=random, device=device)[nearest]
    size = torch.rand(STONES_ACROSS ** 2, generator=random, device=device)[nearest]
    fine = _fractal(random, device, 0.3)
    bump = ((second - first) * 2.5).clamp(max=1.0) * (0.4 + size)
    height = _standard(_blurred((bump + 0.12 * fine)[None], 0.8)[0])
    slope_x = _standard(height - height.roll(1, 1))
    slope_y = _standard(height - height.roll(1, 0))
    mortar = (second - first) < 0.12
    return torch.stack([_standard(torch.where(mortar, -0.8 * torch.ones_like(value), value)), height, slope_x, slope_y, fine])


def _cells(random, device):
    """Value of the cell (standard normal), distance to its border in cells, value of a second, finer cell pattern."""
    first, second, nearest = _voronoi(random, device, CELLS_ACROSS)
    value = torch.randn(CELLS_ACROSS ** 2, generator=random, device=device)[nearest]
    _, _, finer = _voronoi(random, device, CELLS_ACROSS * 3)
    fine_value = torch.randn((CELLS_ACROSS * 3) ** 2, generator=random, device=device)[finer]
    return torch.stack([_standard(value), (second - first) / 2, _standard(fine_value)])
