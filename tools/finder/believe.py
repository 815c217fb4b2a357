"""How far a model is believed: fits the curves `doubt` of finder.json on rendered scenes with truth.

    python3 believe.py finder.onnx SCENES...      prints the curves as JSON; SCENES: folders of render_scenes

Needs OpenCV and numpy. Two habits are measured, cell by cell against the true footprint: loss guessed where no coat is near
(the share must be raised to a power to be right), and paint taken for a thing. See README.md, "How far it is believed".
"""
import json
import sys
from pathlib import Path

import cv2
import numpy as np

LONG_SIDE, MULTIPLE, STRIDE, NEAR = 1024, 64, 2, 5
COAT_KNOTS = (0.0, 0.05, 0.1, 0.2, 0.3)
THING_KNOTS = (0.05, 0.4, 0.8, 0.97, 1.0)
POWERS = np.array([0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.15, 1.3, 1.5, 1.8, 2.2, 2.7, 3.3, 4.0, 5.0, 6.5, 8.0, 12.0, 20.0, 30.0, 45.0])
DECIDED_FROM = 0.3  # odds below it end as bare pavement at any power; they are many and would drown the rest


def layers_of(net, picture):
    """Seven layers of the padded picture, cut back to the picture's cells."""
    height, width = picture.shape[:2]
    scale = LONG_SIDE / max(height, width)
    small = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    below, right = (-small.shape[0]) % MULTIPLE, (-small.shape[1]) % MULTIPLE
    padded = cv2.copyMakeBorder(small, 0, below, 0, right, cv2.BORDER_REPLICATE)
    net.setInput(cv2.dnn.blobFromImage(padded, 1 / 255, swapRB=True))
    answers = net.forward(net.getUnconnectedOutLayersNames())
    layers = next(answer for answer in answers if answer.shape[1] == 7)[0]
    return layers[:, :small.shape[0] // STRIDE, :small.shape[1] // STRIDE], scale / STRIDE


def truth_of(path, shape, scale):
    """True footprint share of every cell, counted or not."""
    fine = np.zeros((shape[0] * 4, shape[1] * 4), np.uint8)
    for marking in json.loads(path.read_text())["markings"]:
        rings = [np.round(np.array(ring) * scale * 4 * 16).astype(np.int32) for ring in marking["footprint"]]
        cv2.fillPoly(fine, rings, 255, shift=4)
    return cv2.resize(fine, (shape[1], shape[0]), interpolation=cv2.INTER_AREA) / 255.0


def cells_of(net, folders):
    """odds, coat near, not_ground and truth of the cells that say anything at all, a sixth of them."""
    found = []
    for folder in folders:
        for path in sorted(Path(folder).glob("*.truth.json")):
            picture = cv2.imread(str(path).replace(".truth.json", ".jpg"))
            layers, scale = layers_of(net, picture)
            footprint, ground = layers[2:].sum(0), np.maximum(layers[2:].sum(0) + layers[0], 0.004)
            near = cv2.blur((layers[2] + layers[3]) / ground, (NEAR, NEAR), borderType=cv2.BORDER_REPLICATE)
            truth = truth_of(path, footprint.shape, scale)
            odds = np.clip(footprint / ground, 0, 1)
            keep = (odds > 0.03).ravel()
            found.append(np.stack([part.ravel()[keep][::6] for part in (odds, near, layers[1], truth)]))
    return np.concatenate(found, 1)


def best_power(odds, truth):
    """The power that makes the odds a chance: least log loss, cells counted alike."""
    losses, odds, truth = [], odds[odds > DECIDED_FROM], truth[odds > DECIDED_FROM]
    for power in POWERS:
        chance = np.clip(odds ** power, 0.002, 0.998)
        losses.append(-(truth * np.log(chance) + (1 - truth) * np.log(1 - chance)).mean())
    return float(POWERS[int(np.argmin(losses))])


def around(knots, value, k):
    """Cells nearer to knot k than to its neighbours."""
    low = -1 if k == 0 else (knots[k - 1] + knots[k]) / 2
    high = 2 if k == len(knots) - 1 else (knots[k] + knots[k + 1]) / 2
    return (value >= low) & (value < high)


def main(model, *folders):
    odds, near, thing, truth = cells_of(cv2.dnn.readNetFromONNX(model), folders)
    on_ground, sure = thing < 0.2, near > 0.25
    coat_powers = [best_power(odds[s], truth[s]) if s.sum() > 50 else None
                   for s in (on_ground & around(COAT_KNOTS, near, k) for k in range(len(COAT_KNOTS)))]
    thing_powers = [best_power(odds[s], truth[s]) if s.sum() > 50 else None
                    for s in (sure & around(THING_KNOTS, thing, k) for k in range(len(THING_KNOTS)))]
    print(json.dumps({"coat_near": COAT_KNOTS, "power": coat_powers, "not_ground": THING_KNOTS, "thing_power": thing_powers}))
    for name, value, where in (("coat near", near, on_ground), ("not_ground", thing, sure)):
        for low, high in ((0, 0.03), (0.03, 0.1), (0.1, 0.2), (0.2, 0.4), (0.4, 0.7), (0.7, 0.9), (0.9, 1.01)):
            row = []
            for share in (0.2, 0.4, 0.6, 0.8, 0.95):
                s = where & (value >= low) & (value < high) & (abs(odds - share) < 0.1)
                row.append(f"{truth[s].mean():.2f} ({s.sum()})" if s.sum() > 30 else "-")
            print(f"{name} {low}-{high}: true share where the odds are 0.2 0.4 0.6 0.8 0.95: {', '.join(row)}", file=sys.stderr)


if __name__ == "__main__":
    main(*sys.argv[1:])
