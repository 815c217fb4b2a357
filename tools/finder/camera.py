"""A phone's pinhole camera with radial distortion above the ground plane z = 0 (millimetres, z up)."""
from dataclasses import dataclass

import numpy as np

from raster import clip

NEAR_MM = 40.0
FIELD_LIMIT = 2.6  # tangent of the widest ray that is still followed; well outside any picture


@dataclass(frozen=True)
class Camera:
    width: int
    height: int
    focal_px: float
    centre: tuple
    radial: float          # undistorted radius = distorted radius * (1 + radial * distorted radius squared)
    rotation: np.ndarray   # rows: right, down, forward
    height_mm: float

    def project(self, points):
        """Ring of N x 3 ground points -> M x 2 pixels, clipped to what lies before the lens; None when nothing does."""
        seen = (points - (0.0, 0.0, self.height_mm)) @ self.rotation.T
        seen = clip(seen, seen[:, 2] - NEAR_MM)
        if seen is None:
            return None
        rays = seen[:, :2] / seen[:, 2:]
        for axis in (0, 1):
            for sign in (1.0, -1.0):
                rays = clip(rays, FIELD_LIMIT - sign * rays[:, axis])
                if rays is None:
                    return None
        return self._pixels(_subdivide(rays, 0.12) if self.radial else rays)

    def ground_under(self, pixel):
        """Ground point seen at a pixel, or None above the horizon."""
        ray = (np.asarray(pixel, float) - self.centre) / self.focal_px
        ray = ray * (1.0 + self.radial * (ray @ ray))
        direction = self.rotation.T @ np.array([ray[0], ray[1], 1.0])
        if direction[2] > -0.02:
            return None
        return direction[:2] * (self.height_mm / -direction[2])

    def _pixels(self, rays):
        radius = np.hypot(rays[:, 0], rays[:, 1])
        bent = radius.copy()
        for _ in range(6):
            bent -= (bent * (1 + self.radial * bent ** 2) - radius) / (1 + 3 * self.radial * bent ** 2)
        scale = np.where(radius > 1e-9, bent / np.maximum(radius, 1e-9), 1.0)
        return rays * scale[:, None] * self.focal_px + self.centre


def looking(tilt, roll):
    """Rotation of a camera tilted from straight down and rolled about its axis (radians)."""
    forward = np.array([0.0, np.sin(tilt), -np.cos(tilt)])
    right = np.array([1.0, 0.0, 0.0])
    down = np.cross(forward, right)
    return np.stack([np.cos(roll) * right + np.sin(roll) * down, np.cos(roll) * down - np.sin(roll) * right, forward])


def _subdivide(ring, longest):
    following = np.roll(ring, -1, axis=0)
    steps = np.maximum(1, np.ceil(np.hypot(*(following - ring).T) / longest)).astype(int)
    edge = np.repeat(np.arange(len(ring)), steps)
    share = (np.arange(steps.sum()) - np.repeat(np.cumsum(steps) - steps, steps)) / steps[edge]
    return ring[edge] + share[:, None] * (following - ring)[edge]
