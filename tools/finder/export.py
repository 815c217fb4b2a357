"""Writes a trained finder as ONNX: python3 export.py ema.pt finder.onnx"""
import inspect
import sys

import torch

from network import Finder, FinderForExport

OPSET = 11  # the newest that OpenCV 4.6 reads without complaint for these operations


def export(finder, path):
    network = FinderForExport(finder).eval()
    sizes = {"picture": {2: "height", 3: "width"}, "layers": {2: "half_height", 3: "half_width"},
             "kinds": {2: "eighth_height", 3: "eighth_width"}}
    extra = {"dynamo": False} if "dynamo" in inspect.signature(torch.onnx.export).parameters else {}
    torch.onnx.export(network, torch.zeros(1, 3, 256, 320), str(path), opset_version=OPSET, input_names=["picture"],
                      output_names=["layers", "kinds"], dynamic_axes=sizes, **extra)


def load(path):
    finder = Finder()
    finder.load_state_dict(torch.load(path, map_location="cpu"))
    return finder.eval()


if __name__ == "__main__":
    export(load(sys.argv[1]), sys.argv[2])
