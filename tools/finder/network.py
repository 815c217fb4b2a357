"""The finder network: a U-shaped net with strides 2 to 64 and two named heads.

Only operations that OpenCV 4.6's dnn reads right at any size are used: convolutions, depthwise convolutions, ReLU,
nearest x2, addition, softmax over channels.
"""
import torch
from torch import nn

LAYERS = ("pavement", "not_ground", "top_coat", "older_coat", "lost_abraded", "lost_flaked", "lost_cracked")
KINDS = ("none", "line", "stop_line", "crosswalk", "arrow", "accessible_symbol", "hatching", "legend", "yield_line", "curb")
FIRST_MARKING_LAYER = 2  # the original footprint is the sum of this layer and those after it


def conv(inputs, outputs, kernel=1, stride=1, groups=1):
    """Convolution and batch normalisation; the exporter folds the second into the first."""
    if isinstance(kernel, int):
        kernel = (kernel, kernel)
    padding = (kernel[0] // 2, kernel[1] // 2)
    return nn.Sequential(
        nn.Conv2d(inputs, outputs, kernel, stride, padding, groups=groups, bias=False),
        nn.BatchNorm2d(outputs))


class InvertedResidual(nn.Module):
    def __init__(self, channels, kernel=3, expansion=2):
        super().__init__()
        hidden = channels * expansion
        self.body = nn.Sequential(
            conv(channels, hidden), nn.ReLU(inplace=True),
            conv(hidden, hidden, kernel, groups=hidden), nn.ReLU(inplace=True),
            conv(hidden, channels))

    def forward(self, x):
        return x + self.body(x)


class StripContext(nn.Module):
    """Looks far along rows and columns: what joins the two ends of a line across a long gap."""

    def __init__(self, channels, length):
        super().__init__()
        self.enter = nn.Sequential(conv(channels, channels), nn.ReLU(inplace=True))
        self.along_row = conv(channels, channels, (1, length), groups=channels)
        self.along_column = conv(channels, channels, (length, 1), groups=channels)
        self.around = conv(channels, channels, 3, groups=channels)
        self.leave = nn.Sequential(nn.ReLU(inplace=True), conv(channels, channels))

    def forward(self, x):
        inside = self.enter(x)
        return x + self.leave(self.along_row(inside) + self.along_column(inside) + self.around(inside))


class Down(nn.Module):
    """Halves the map. The full 3 x 3 convolution is cheaper on a CPU than widening at the finer resolution."""

    def __init__(self, inputs, outputs, blocks):
        super().__init__()
        self.reduce = nn.Sequential(conv(inputs, outputs, 3, stride=2), nn.ReLU(inplace=True))
        self.blocks = nn.Sequential(*blocks)

    def forward(self, x):
        return self.blocks(self.reduce(x))


class Up(nn.Module):
    """Doubles the coarse map and adds the finer one to it."""

    def __init__(self, coarse, fine, blocks):
        super().__init__()
        self.from_coarse = conv(coarse, fine)
        self.from_fine = conv(fine, fine)
        self.enlarge = nn.Upsample(scale_factor=2, mode="nearest")
        self.blocks = nn.Sequential(nn.ReLU(inplace=True), *blocks)

    def forward(self, coarse, fine):
        return self.blocks(self.enlarge(self.from_coarse(coarse)) + self.from_fine(fine))


class Finder(nn.Module):
    """Gives logits; `FinderForExport` gives fractions."""

    def __init__(self, channels=(20, 36, 72, 128, 176, 176)):
        super().__init__()
        c2, c4, c8, c16, c32, c64 = channels
        self.stem = nn.Sequential(conv(3, c2, 3, stride=2), nn.ReLU(inplace=True))
        self.down4 = Down(c2, c4, [InvertedResidual(c4)])
        self.down8 = Down(c4, c8, [InvertedResidual(c8), InvertedResidual(c8)])
        self.down16 = Down(c8, c16, [InvertedResidual(c16), StripContext(c16, 15), InvertedResidual(c16)])
        self.down32 = Down(c16, c32, [InvertedResidual(c32, 5), StripContext(c32, 21), InvertedResidual(c32, 5)])
        self.down64 = Down(c32, c64, [StripContext(c64, 15), InvertedResidual(c64, 5), StripContext(c64, 15)])
        self.up32 = Up(c64, c32, [InvertedResidual(c32, 5), StripContext(c32, 21)])
        self.up16 = Up(c32, c16, [InvertedResidual(c16), StripContext(c16, 31)])
        self.up8 = Up(c16, c8, [InvertedResidual(c8), InvertedResidual(c8)])
        self.up4 = Up(c8, c4, [InvertedResidual(c4)])
        self.up2 = Up(c4, c2, [conv(c2, c2, 3), nn.ReLU(inplace=True)])
        self.layers = nn.Conv2d(c2, len(LAYERS), 1)
        self.kinds = nn.Sequential(InvertedResidual(c8), nn.Conv2d(c8, len(KINDS), 1))

    def forward(self, picture):
        x2 = self.stem(picture - 0.5)
        x4 = self.down4(x2)
        x8 = self.down8(x4)
        x16 = self.down16(x8)
        x32 = self.down32(x16)
        x64 = self.down64(x32)
        y8 = self.up8(self.up16(self.up32(x64, x32), x16), x8)
        return self.layers(self.up2(self.up4(y8, x4), x2)), self.kinds(y8)


class FinderForExport(nn.Module):
    def __init__(self, finder):
        super().__init__()
        self.finder = finder

    def forward(self, picture):
        layers, kinds = self.finder(picture)
        return layers.softmax(1), kinds.softmax(1)
