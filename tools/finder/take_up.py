"""Takes up training where an exported model stands: its folded weights become convolutions and batch normalisations again.

Normalisation was folded into the convolutions on export. Each one is set so that it gives back, on one batch of rendered
scenes, what the folded convolution gave; from there on training normalises by batch as before.
"""
import onnx
import torch
from onnx import numpy_helper
from torch import nn


def folded_weights(path):
    """(weight, bias) of every convolution, in the order in which they run."""
    graph = onnx.load(str(path)).graph
    values = {one.name: torch.from_numpy(numpy_helper.to_array(one).copy()) for one in graph.initializer}
    return [(values[node.input[1]], values[node.input[2]]) for node in graph.node if node.op_type == "Conv"]


@torch.no_grad()
def take_up(model, path, picture):
    """Sets `model` to the model at `path`; `picture`: N x 3 x H x W as the model wants it, some ten scenes."""
    weights = iter(folded_weights(path))
    bias_of_next, handles = [None], []

    def before_conv(module, _):
        weight, bias = next(weights)
        if module.weight.shape != weight.shape:
            raise ValueError(f"{path}: a convolution of shape {tuple(weight.shape)} where the network has "
                             f"{tuple(module.weight.shape)}; this export is of another network")
        module.weight.copy_(weight)
        if module.bias is not None:
            module.bias.copy_(bias)
        bias_of_next[0] = bias

    def before_norm(module, inputs):
        mean, variance = inputs[0].mean((0, 2, 3)), inputs[0].var((0, 2, 3), unbiased=False)
        module.running_mean.copy_(mean)
        module.running_var.copy_(variance)
        module.weight.copy_((variance + module.eps).sqrt())
        module.bias.copy_(bias_of_next[0].to(mean.device) + mean)

    for module in model.modules():
        if isinstance(module, nn.Conv2d):
            handles.append(module.register_forward_pre_hook(before_conv))
        elif isinstance(module, nn.BatchNorm2d):
            handles.append(module.register_forward_pre_hook(before_norm))
    model.train()
    model(picture)
    for handle in handles:
        handle.remove()
    if next(weights, None) is not None:
        raise ValueError(f"{path}: more convolutions than the network has; this export is of another network")
