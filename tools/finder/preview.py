"""Contact sheets of training pictures with their labels: python3 preview.py OUT.jpg [FIRST_SEED] [COUNT] [WIDTH] [HEIGHT]"""
import sys

import numpy as np
import torch
from PIL import Image

from render import Renderer
from scene import make_scene
from textures import Bank

LAYER_COLOURS = np.array([[90, 90, 90], [40, 60, 120], [255, 255, 255], [255, 160, 0], [0, 190, 255], [255, 0, 80],
                          [120, 255, 0]], np.float32)


def coloured(layers):
    """7 x h x w shares -> picture."""
    return np.clip(np.einsum("lhw,lc->hwc", layers, LAYER_COLOURS), 0, 255).astype(np.uint8)


def collate(scenes, device="cpu"):
    return {name: torch.from_numpy(np.stack([scene[name] for scene in scenes])).to(device) for name in scenes[0]}


def pair(picture, layers):
    """Picture beside its layers, as one array."""
    picture = (picture.transpose(1, 2, 0) * 255).astype(np.uint8)
    labels = Image.fromarray(coloured(layers)).resize(picture.shape[1::-1], Image.NEAREST)
    return np.concatenate([picture, np.asarray(labels)], 1)


def sheet(pairs, columns=3):
    rows = [np.concatenate(pairs[k:k + columns], 1) for k in range(0, len(pairs) - columns + 1, columns)]
    return Image.fromarray(np.concatenate(rows, 0))


def main(out, first=0, count=12, width=512, height=384):
    first, count, width, height = map(int, (first, count, width, height))
    render = Renderer(Bank(first, "cpu"))
    pairs = []
    for seed in range(first, first + count):
        picture, layers, _ = render(collate([make_scene(seed, width, height)]))
        pairs.append(pair(picture[0].numpy(), layers[0].numpy()))
    sheet(pairs).save(out, quality=90)


if __name__ == "__main__":
    main(*sys.argv[1:])
