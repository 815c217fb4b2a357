"""Cuts polygons, and fills them without bias: a pixel is inside when its centre is (even-odd rule)."""
import numpy as np


def fill(target, rings, value):
    """Writes `value` into the 2-D array `target` inside the rings (pixel coordinates, outer corner = 0, 0)."""
    mask, window = inside(rings, *target.shape)
    if mask is not None:
        target[window][mask] = value


def mark(target, rings, bit):
    """Sets `bit` in the 2-D array `target` inside the rings."""
    mask, window = inside(rings, *target.shape)
    if mask is not None:
        target[window][mask] |= bit


def inside(rings, height, width):
    """Boolean mask of the rings' bounding window and that window; (None, None) when nothing is covered."""
    starts = np.concatenate(rings)
    ends = np.concatenate([np.roll(ring, -1, axis=0) for ring in rings])
    low = np.clip(np.ceil(starts.min(0) - 0.5), 0, (width, height)).astype(int)
    high = np.clip(np.ceil(starts.max(0) - 0.5), 0, (width, height)).astype(int)
    if (high <= low).any():
        return None, None
    rows, columns = _crossings(starts, ends, low[1], high[1])
    columns = np.clip(np.ceil(columns - 0.5), low[0], high[0]).astype(np.int64) - low[0]
    span = high[0] - low[0] + 1
    places, counts = np.unique((rows - low[1]) * span + columns, return_counts=True)
    toggles = np.zeros(((high[1] - low[1]), span), np.uint8)
    toggles.flat[places[counts % 2 == 1]] = 1
    mask = np.bitwise_xor.accumulate(toggles[:, :-1], axis=1).astype(bool)
    return mask, (slice(low[1], high[1]), slice(low[0], high[0]))


def _crossings(starts, ends, first_row, end_row):
    """Rows and x positions where the edges cross the pixel centres' horizontal lines."""
    downward = starts[:, 1] <= ends[:, 1]
    top = np.where(downward[:, None], starts, ends)
    bottom = np.where(downward[:, None], ends, starts)
    first = np.clip(np.ceil(top[:, 1] - 0.5), first_row, end_row).astype(np.int64)
    last = np.clip(np.ceil(bottom[:, 1] - 0.5), first_row, end_row).astype(np.int64)
    counts = np.maximum(last - first, 0)
    edge = np.repeat(np.arange(len(counts)), counts)
    rows = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts) + first[edge]
    rise = bottom[edge, 1] - top[edge, 1]
    columns = top[edge, 0] + (rows + 0.5 - top[edge, 1]) / rise * (bottom[edge, 0] - top[edge, 0])
    return rows, columns


def clip(ring, distance):
    """Part of a ring where the signed distance is positive (Sutherland and Hodgman)."""
    keep = distance > 0
    if keep.all():
        return ring
    if not keep.any():
        return None
    following = np.roll(ring, -1, axis=0)
    following_distance = np.roll(distance, -1)
    crosses = keep != np.roll(keep, -1)
    share = np.where(crosses, distance / np.where(crosses, distance - following_distance, 1.0), 0.0)
    cut = ring + share[:, None] * (following - ring)
    both = np.stack([ring, cut], 1).reshape(-1, ring.shape[1])
    return both[np.stack([keep, crosses], 1).ravel()]
