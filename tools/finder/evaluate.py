"""Judges an exported finder with OpenCV's dnn on photos that were never trained on.

    python3 evaluate.py MODEL.onnx DATA OUT          DATA: folder of sets, each with images/ and footprints.json

Writes OUT/figures.json and one overlay a photo. Figures:
  recall      share of the pixels inside a hand-drawn outline that the net calls footprint
  iou         with the found footprint within one line width (at least 12 px) of the outline, other outlines left out;
              photos hold markings without an outline, so what is farther away cannot be scored
  remaining   top coat's share of the footprint inside the outline, against the range stated with the outline
  stray       found pieces of more than 0.05 % of the picture in photos listed in EMPTY
"""
import json
import sys
from pathlib import Path

import cv2
import numpy as np

from network import FIRST_MARKING_LAYER, KINDS, LAYERS

LONG_SIDE, MULTIPLE = 1024, 64
EMPTY = ("surface_asphalt.jpg", "surface_asphalt_bad.jpg", "surface_concrete_intermediate.jpg", "Asphalt025A_1K-JPG_Color.jpg",
         "Concrete042A_1K-JPG_Color.jpg", "000009.jpg")
OVERLAY_COLOURS = {"not_ground": (120, 60, 30), "top_coat": (0, 220, 0), "older_coat": (0, 140, 255),
                   "lost_abraded": (255, 200, 0), "lost_flaked": (60, 0, 255), "lost_cracked": (255, 0, 255)}  # BGR


class FinderNet:
    def __init__(self, model, long_side=LONG_SIDE):
        self.net, self.long_side = cv2.dnn.readNetFromONNX(str(model)), long_side

    def __call__(self, photo):
        """photo: 8-bit BGR -> layers 7 x h x w and kinds 10 x h/4 x w/4 of the scaled photo, and the scaled photo."""
        scale = self.long_side / max(photo.shape[:2])
        method = cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR
        small = cv2.resize(photo, None, fx=scale, fy=scale, interpolation=method)
        height, width = small.shape[:2]
        padded = cv2.copyMakeBorder(small, 0, -height % MULTIPLE, 0, -width % MULTIPLE, cv2.BORDER_REPLICATE)
        self.net.setInput(cv2.dnn.blobFromImage(padded, 1 / 255, swapRB=True))
        layers, kinds = self.net.forward(["layers", "kinds"])
        return (layers[0][:, :(height + 1) // 2, :(width + 1) // 2],
                kinds[0][:, :(height + 7) // 8, :(width + 7) // 8], small)


def outlines_by_image(folder):
    """{image: [(id, polygon, remaining range)]} of a set."""
    path = folder / "footprints.json"
    found = {}
    for entry in json.loads(path.read_text())["footprints"] if path.exists() else []:
        found.setdefault(entry["image"], []).append(
            (entry["id"], np.array(entry["polygon"]), entry.get("remaining_paint_range_pct")))
    return found


def mask_of(polygon, scale, shape):
    mask = np.zeros(shape, np.uint8)
    cv2.fillPoly(mask, [np.round(((polygon + 0.5) * scale - 0.5) * 16).astype(np.int32)], 1, shift=4)
    return mask.astype(bool)


def score_outline(outline, others, layers, found):
    truth, span = outline, cv2.distanceTransform(outline.astype(np.uint8), cv2.DIST_L2, 3).max() * 2
    reach = int(max(6, span)) * 2 + 1
    near = cv2.dilate(outline.astype(np.uint8), cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach))).astype(bool)
    region = (near & ~others) | truth
    overlap, union = (found & truth).sum(), ((found & region) | truth).sum()
    shares = layers[:, truth].sum(1)
    remaining = 100 * shares[FIRST_MARKING_LAYER] / max(shares[FIRST_MARKING_LAYER:].sum(), 1e-6)
    return {"recall": round(float(overlap / truth.sum()), 3), "iou": round(float(overlap / union), 3),
            "remaining": round(float(remaining), 1)}


def overlay(small, layers, kinds, polygons, scale):
    size = small.shape[1::-1]
    best = cv2.resize(layers.argmax(0).astype(np.uint8), size, interpolation=cv2.INTER_NEAREST)
    shown = small.copy()
    for name, colour in OVERLAY_COLOURS.items():
        inside = best == LAYERS.index(name)
        shown[inside] = (0.45 * shown[inside] + 0.55 * np.array(colour)).astype(np.uint8)
    for polygon in polygons:
        cv2.polylines(shown, [np.round(polygon * scale).astype(np.int32)], True, (255, 255, 255), 1)
    _name_kinds(shown, layers, kinds)
    return np.hstack([small, shown])


def _name_kinds(shown, layers, kinds):
    found = (layers[FIRST_MARKING_LAYER:].sum(0) > 0.5).astype(np.uint8)
    count, pieces, boxes, _ = cv2.connectedComponentsWithStats(found)
    for k in range(1, count):
        if boxes[k, cv2.CC_STAT_AREA] < 150:
            continue
        cells = cv2.resize((pieces == k).astype(np.float32), kinds.shape[:0:-1], interpolation=cv2.INTER_AREA)
        kind = KINDS[1 + int((kinds[1:] * cells).sum((1, 2)).argmax())]
        place = (int(boxes[k, 0] * 2 + 2), int(boxes[k, 1] * 2 + 12))
        cv2.putText(shown, kind, place, cv2.FONT_HERSHEY_SIMPLEX, 0.42, (0, 255, 255), 1, cv2.LINE_AA)


def stray_pieces(found):
    _, _, boxes, _ = cv2.connectedComponentsWithStats(found.astype(np.uint8))
    return int((boxes[1:, cv2.CC_STAT_AREA] > 0.0005 * found.size).sum())


def lane_masks(net, folder):
    """Pooled recall and IoU of lane-marking pixels inside the road of the set that has pixel masks."""
    overlap = union = marked = 0
    for path in sorted((folder / "images").glob("*.png")):
        mask_path = folder / "masks_upstream" / path.name
        if not mask_path.exists():
            continue
        photo, mask = cv2.imread(str(path)), cv2.imread(str(mask_path))
        layers, _, _ = net(photo)
        found = cv2.resize(layers[FIRST_MARKING_LAYER:].sum(0), photo.shape[1::-1]) > 0.5
        lane = (mask == (0, 0, 255)).all(2)
        scored = lane | (mask == (0x20, 0x20, 0x40)).all(2)
        overlap += (found & lane).sum()
        union += ((found & scored) | lane).sum()
        marked += lane.sum()
    return {"recall": round(float(overlap / max(marked, 1)), 3), "iou": round(float(overlap / max(union, 1)), 3)}


def evaluate(model, data, out):
    net, rows, stray = FinderNet(model), [], {}
    out.mkdir(parents=True, exist_ok=True)
    for folder in sorted(path.parent for path in data.glob("*/images")):
        outlines = outlines_by_image(folder)
        for path in sorted((folder / "images").iterdir()):
            photo = cv2.imread(str(path))
            if photo is None:
                continue
            layers, kinds, small = net(photo)
            found = layers[FIRST_MARKING_LAYER:].sum(0) > 0.5
            scale = small.shape[1] / photo.shape[1]
            entries = outlines.get("images/" + path.name, [])
            masks = [mask_of(polygon, scale / 2, found.shape) for _, polygon, _ in entries]
            for k, (name, _, stated) in enumerate(entries):
                others = np.any([mask for j, mask in enumerate(masks) if j != k] or [np.zeros_like(found)], axis=0)
                row = score_outline(masks[k], others, layers, found)
                rows.append({"set": folder.name, "image": path.name, "outline": name, "stated": stated, **row})
            if path.name in EMPTY:
                stray[path.name] = stray_pieces(found)
            picture = overlay(small, layers, kinds, [polygon for _, polygon, _ in entries], scale)
            cv2.imwrite(str(out / f"{folder.name}-{path.stem}.jpg"), picture, [cv2.IMWRITE_JPEG_QUALITY, 85])
    return rows, stray, lane_masks(net, data / "comma10k-subset")


def summary(rows, stray, lanes):
    recall, iou = np.array([row["recall"] for row in rows]), np.array([row["iou"] for row in rows])
    in_range = [row["stated"][0] <= row["remaining"] <= row["stated"][1] for row in rows if row["stated"]]
    off = [max(row["stated"][0] - row["remaining"], row["remaining"] - row["stated"][1], 0) for row in rows if row["stated"]]
    return {"outlines": len(rows), "recall_mean": round(float(recall.mean()), 3), "iou_mean": round(float(iou.mean()), 3),
            "iou_median": round(float(np.median(iou)), 3), "iou_at_least_half": int((iou >= 0.5).sum()),
            "remaining_in_stated_range": int(sum(in_range)), "remaining_beyond_range_mean": round(float(np.mean(off)), 1),
            "empty_photos": len(stray), "stray_pieces": int(sum(stray.values())), "lane_masks": lanes}


def main(model, data, out):
    rows, stray, lanes = evaluate(Path(model), Path(data), Path(out))
    result = {"summary": summary(rows, stray, lanes), "stray": stray, "outlines": rows}
    (Path(out) / "figures.json").write_text(json.dumps(result, indent=1))
    for row in rows:
        print(row["set"], row["image"][:28], row["outline"], "recall", row["recall"], "iou", row["iou"],
              "remaining", row["remaining"], row["stated"])
    print(json.dumps(result["summary"]))


if __name__ == "__main__":
    main(*sys.argv[1:])
