"""The second world: scenes of another maker, taken up from folders of finder_examples while training goes on.

A scene is read, cut and scaled by loader processes (`Examples`), photographed a little differently on the device (`varied`).
Every sixteenth scene, by its seed, is kept back for validation. File format: examples.cpp.
"""
import io
import os
import queue
import struct
import threading
import time
from pathlib import Path

import numpy as np
import torch
import torch.nn.functional as F
from PIL import Image
from torch.utils.data import DataLoader, IterableDataset, get_worker_info

from network import KINDS, LAYERS
from render import LUMINANCE, _compressed

HELD_BACK = 16
FIRST_FILES = 100  # fewer would be learned by heart
LAYER_STRIDE, KIND_STRIDE = 2, 8
STORED_LAYERS, STORED_KINDS = len(LAYERS) - 1, len(KINDS) - 1  # pavement and `none` are what is left


def size_of(path):
    """Width and height of the file's picture."""
    with open(path, "rb") as file:
        head = file.read(12)
    if head[:4] != b"LWF1":
        raise ValueError(f"{path}: not a file of finder_examples")
    return struct.unpack("<2i", head[4:])


def read(path):
    """Bytes: picture 3 x H x W, layers 6 x H/2 x W/2, kinds 9 x H/8 x W/8."""
    data = Path(path).read_bytes()
    width, height, *lengths = struct.unpack("<5i", data[4:24])
    if data[:4] != b"LWF1" or len(data) != 24 + sum(lengths):
        raise ValueError(f"{path}: not a whole file of finder_examples")
    parts, begin = [], 24
    for length, channels, stride in zip(lengths, (3, STORED_LAYERS, STORED_KINDS), (1, LAYER_STRIDE, KIND_STRIDE)):
        planes = np.asarray(Image.open(io.BytesIO(data[begin:begin + length])))
        parts.append(planes.reshape(channels, height // stride, width // stride))
        begin += length
    return parts


def window_of(random, source, target):
    """Left, top, width, height of the part of the source that becomes the target: as it is or 0.7 to 1.3 times as large."""
    least = max(target[0] / source[0], target[1] / source[1])
    low = max(0.7, least)
    scale = low if random.random() < 0.35 else np.exp(random.uniform(np.log(low), np.log(max(1.3, 1.15 * low))))
    width, height = min(target[0] / scale, source[0]), min(target[1] / scale, source[1])
    return random.uniform(0, source[0] - width), random.uniform(0, source[1] - height), width, height


def cut(planes, window, stride, target):
    """The window of each plane, scaled to the target by averaging over areas; window and target in pixels of the picture."""
    left, top, width, height = (value / stride for value in window)
    size = (target[0] // stride, target[1] // stride)
    if (left, top, width, height) == (0, 0, *size) and planes.shape[:0:-1] == size:
        return planes
    how = Image.BOX if width > size[0] else Image.BILINEAR
    return np.stack([np.asarray(Image.fromarray(plane).resize(size, how, (left, top, left + width, top + height)))
                     for plane in planes])


def prepared(random, path, target):
    """One scene of the wanted size, mirrored one time in two."""
    parts = read(path)
    window = window_of(random, parts[0].shape[:0:-1], target)
    parts = [cut(part, window, stride, target) for part, stride in zip(parts, (1, LAYER_STRIDE, KIND_STRIDE))]
    return [part[:, :, ::-1] for part in parts] if random.random() < 0.5 else parts


class Folder:
    """The files that are there by now, by whether they lie, stand or are kept back."""

    def __init__(self, folders):
        self.folders, self.known, self.lying, self.standing, self.held_back = folders, set(), [], [], []

    def look(self):
        for path in sorted(path for folder in self.folders for path in Path(folder).rglob("*.lwf")):
            if path in self.known:
                continue
            self.known.add(path)
            width, height = size_of(path)
            if int(path.stem.rsplit("-", 1)[1]) % HELD_BACK == 0:
                self.held_back.append(path)
            else:
                (self.lying if width >= height else self.standing).append(path)

    def fitting(self, target):
        if target[0] == target[1]:
            return self.lying + self.standing
        return self.lying if target[0] > target[1] else self.standing


class Examples(IterableDataset):
    """Endless batches as bytes. Waits until there are files enough, and looks for new ones every few seconds."""

    def __init__(self, folders, seed, rank, batch, sizes):
        self.folders, self.seed, self.rank, self.batch, self.sizes = folders, seed, rank, batch, sizes

    def __iter__(self):
        worker = get_worker_info().id if get_worker_info() else 0
        random = np.random.default_rng([self.seed, self.rank, worker, 7])
        parent, folder, looked = os.getppid(), Folder(self.folders), 0.0
        while os.getppid() == parent:
            if time.time() - looked > 8:
                folder.look()
                looked = time.time()
            # the program shows whole pictures, which have the first two sizes: half of the batches
            target = self.sizes[random.integers(2)] if random.random() < 0.5 else self.sizes[random.integers(len(self.sizes))]
            files = folder.fitting(target)
            if len(folder.lying) + len(folder.standing) < FIRST_FILES or not files:
                time.sleep(1)
                continue
            scenes = [prepared(random, files[k], target) for k in random.integers(len(files), size=self.batch)]
            yield tuple(torch.from_numpy(np.stack(part)) for part in zip(*scenes))


class SecondWorld:
    """Batches for the training process. Never makes it wait for files that are not there: `batch` then gives None."""

    def __init__(self, folders, seed, rank, batch, sizes, workers, device):
        self.device, self.ready, self.queue = device, False, queue.Queue(3)
        loader = DataLoader(Examples(folders, seed, rank, batch, sizes), batch_size=None, num_workers=workers,
                            prefetch_factor=3 if workers else None)
        threading.Thread(target=self._fetch, args=(loader,), daemon=True).start()

    def _fetch(self, loader):
        for parts in loader:
            self.queue.put(parts)

    def batch(self):
        """picture, layers, kinds as the renderer gives them; None when there are not files enough yet, or reading is stuck."""
        try:
            parts = self.queue.get(timeout=20) if self.ready else self.queue.get_nowait()
        except queue.Empty:
            self.ready = False  # waits once, not at every step, should the readers have ended
            return None
        self.ready = True
        picture, layers, kinds = on_device(parts, self.device)
        return varied(picture), layers, kinds


def completed(shares):
    """Bytes of all channels but the first -> shares of all that add to 1."""
    shares = shares.float() / 255
    rest = (1 - shares.sum(1, keepdim=True)).clamp(min=0)
    shares = torch.cat([rest, shares], 1)
    return shares / shares.sum(1, keepdim=True)


def on_device(parts, device):
    picture, layers, kinds = (part.to(device, non_blocking=True) for part in parts)
    return picture.float() / 255, completed(layers), completed(kinds)


def _uniform(n, low, high, device):
    return low + (high - low) * torch.rand(n, 1, 1, 1, device=device)


def _chance(n, probability, device):
    return (torch.rand(n, 1, 1, 1, device=device) < probability).float()


def _softened(picture):
    """Mean of 3 x 3 pixels, the middle counting four times, its neighbours twice."""
    taps = torch.tensor([1.0, 2.0, 1.0], device=picture.device) / 4
    n, c, height, width = picture.shape
    one = F.pad(picture.reshape(n * c, 1, height, width), (1, 1, 1, 1), mode="replicate")
    return F.conv2d(F.conv2d(one, taps.view(1, 1, 1, 3)), taps.view(1, 1, 3, 1)).view(n, c, height, width)


@torch.no_grad()
def varied(picture):
    """Exposure, tint, tone curve, saturation, sharpness, noise and JPEG drawn anew for each picture."""
    n, device = len(picture), picture.device
    light = picture ** 2.2 * torch.exp(0.25 * torch.randn(n, 1, 1, 1, device=device))
    light = light * torch.exp(0.05 * torch.randn(n, 3, 1, 1, device=device))
    picture = light.clamp(1e-6, 1) ** (torch.exp(0.12 * torch.randn(n, 1, 1, 1, device=device)) / 2.2)
    picture = picture + _uniform(n, -0.3, 0.5, device) * picture * (1 - picture) * (2 * picture - 1)
    grey = sum(weight * picture[:, k] for k, weight in enumerate(LUMINANCE))[:, None]
    in_colour = 1 - _chance(n, 0.06, device)  # some cameras see no colours
    picture = grey + in_colour * _uniform(n, 0.6, 1.3, device) * (picture - grey)
    change = _uniform(n, -1.0, 1.0, device) * _chance(n, 0.6, device)  # below 0 softer, above sharper
    picture = picture + change * (picture - _softened(picture))
    strength = _uniform(n, 0, 0.03, device) * _chance(n, 0.5, device)
    picture = picture + strength * (0.7 * torch.randn_like(picture[:, :1]) + 0.6 * torch.randn_like(picture))
    picture = picture.clamp(0, 1)
    sent_on = torch.rand(n, device=device) < 0.35
    if sent_on.any():
        quality = 40 + 55 * torch.rand(int(sent_on.sum()), device=device)
        picture[sent_on] = _compressed(picture[sent_on], quality)
    return picture


def held_back(folders, device, most=160, batch=4):
    """Batches of the scenes kept for validation, as the files hold them; evenly over all of them."""
    folder = Folder(folders)
    folder.look()
    files = sorted(folder.held_back)
    files = [files[k * len(files) // most] for k in range(most)] if len(files) > most else files
    by_size = {}
    for path in files:
        by_size.setdefault(size_of(path), []).append(path)
    for same in by_size.values():
        for k in range(0, len(same), batch):
            scenes = [read(path) for path in same[k:k + batch]]
            yield on_device([torch.from_numpy(np.stack(part)) for part in zip(*scenes)], device)
