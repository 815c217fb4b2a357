#!/usr/bin/env python3
"""Trains the coat reader: what of a marking is top coat, older coat, bare pavement, spot by spot, whether it would have flaked
where it is lost, and whether there is an older coat.

    train.py FOLDER... --out DIR [--minutes M] [--seed N] [--resume coats.pt|coats.onnx]
    train.py --average A.pt B.pt... --out DIR    the mean of several ends, as coats.pt and coats.onnx

FOLDER: files of coat_examples; files that come while training goes on are taken up too. Every sixth scene is kept for
checking. Everything after reading runs on the GPU. Writes coats.pt every minute, at the end coats.onnx and figures.json.
"""
import argparse
import glob
import inspect
import json
import math
import os
import threading
import time
import zlib

import numpy as np
import torch
import torch.nn as nn
import torch.nn.functional as F

CROP = 320
BARE, TOP, OLDER, FLAKED = 0, 1, 2, 3
DARK = -3.5
LEAVES = 0.15   # of the markings stand in leaf shadow besides what light they came with
LAYERED = 0.02  # share of older coat from which a marking counts as laid over one


class Gate(nn.Module):
    """What the whole marking says weighs what each spot says: squeeze and excitation."""

    def __init__(self, channels):
        super().__init__()
        self.a, self.b = nn.Conv2d(channels, channels // 2, 1), nn.Conv2d(channels // 2, channels, 1)

    def forward(self, x):
        return x * torch.sigmoid(self.b(F.relu(self.a(F.adaptive_avg_pool2d(x, 1)))))


def conv(i, o, size=3, stride=1, dilation=1):
    return nn.Sequential(nn.Conv2d(i, o, size, stride, dilation if size == 3 else 0, dilation, bias=False),
                         nn.BatchNorm2d(o), nn.ReLU())


class Block(nn.Module):
    def __init__(self, c, dilation=1):
        super().__init__()
        self.a = conv(c, c, 3, 1, dilation)
        self.b = nn.Sequential(nn.Conv2d(c, c, 3, 1, 1, bias=False), nn.BatchNorm2d(c))

    def forward(self, x):
        return F.relu(x + self.b(self.a(x)))


class CoatReader(nn.Module):
    """A U-Net on cells of 2 x 2 pixels. In: log light over the brightest paint (3), inside (1). Out: logits of bare, top,
    older for each pixel and one of flaked, if lost; one logit of a marking that lies over an older coat."""

    def __init__(self, widths=(24, 40, 64, 96, 128)):
        super().__init__()
        a, b, c, d, e = widths
        self.e0 = nn.Sequential(conv(4, a, 2, 2), conv(a, a))
        self.e1 = nn.Sequential(conv(a, b, 3, 2), Block(b))
        self.e2 = nn.Sequential(conv(b, c, 3, 2), Block(c), Gate(c))
        self.e3 = nn.Sequential(conv(c, d, 3, 2), Block(d), Block(d, 2), Gate(d))
        self.e4 = nn.Sequential(conv(d, e, 3, 2), Block(e), Block(e, 2), Gate(e))
        self.u3, self.d3 = nn.ConvTranspose2d(e, d, 2, 2), nn.Sequential(conv(2 * d, d), Gate(d))
        self.u2, self.d2 = nn.ConvTranspose2d(d, c, 2, 2), nn.Sequential(conv(2 * c, c), Gate(c))
        self.u1, self.d1 = nn.ConvTranspose2d(c, b, 2, 2), nn.Sequential(conv(2 * b, b), Gate(b))
        self.u0, self.d0 = nn.ConvTranspose2d(b, a, 2, 2), conv(2 * a, a)
        self.out = nn.ConvTranspose2d(a, 4, 2, 2)
        self.whole = nn.Sequential(nn.Conv2d(e, 48, 1), nn.ReLU(), nn.Conv2d(48, 1, 1))

    def forward(self, x):
        e0 = self.e0(x)
        e1 = self.e1(e0)
        e2 = self.e2(e1)
        e3 = self.e3(e2)
        e4 = self.e4(e3)
        y = self.d3(torch.cat([self.u3(e4), e3], 1))
        y = self.d2(torch.cat([self.u2(y), e2], 1))
        y = self.d1(torch.cat([self.u1(y), e1], 1))
        y = self.d0(torch.cat([self.u0(y), e0], 1))
        return self.out(y), self.whole(F.adaptive_avg_pool2d(e4, 1))


def load(file):
    data = open(file, "rb").read()
    rows, cols = np.frombuffer(data, np.int32, 2)
    mm, px, blur, same = np.frombuffer(data, np.float32, 4, 8)
    n = rows * cols
    x = np.frombuffer(data, np.float16, 4 * n, 24).reshape(rows, cols, 4)
    y = np.frombuffer(data, np.uint8, 3 * n, 24 + 8 * n).reshape(rows, cols, 3)
    inside = x[..., 3] > 0
    older = float((y[..., 1] * inside).sum() / 250 / max(1, inside.sum()))
    name = os.path.basename(file)[:-4]
    return dict(name=name, scene=int(name.split("-")[1].split("_")[0]), x=x, y=y, mm=float(mm), px=float(px), same=int(same),
                older=older, inside=np.flatnonzero(inside))


class Cases:
    """Markings on the device, taken up from the folders as they come: of the renderer, and made up without it."""

    def __init__(self, folders, device, part=(0, 1)):
        self.folders, self.device, self.seen, self.learn, self.kept, self.weights = folders, device, set(), [], [], []
        self.made, self.part = [], part
        self.lock = threading.Lock()

    def look(self):
        files = sorted(f for folder in self.folders for f in glob.glob(os.path.join(folder, "**", "*.bin"), recursive=True))
        for file in files:
            if file in self.seen:
                continue
            self.seen.add(file)
            if zlib.crc32(os.path.basename(file).encode()) % self.part[1] != self.part[0]:
                continue
            try:
                case = load(file)
            except ValueError:  # half written
                self.seen.discard(file)
                continue
            if len(case["inside"]) <= 400:
                continue
            if case["scene"] % 6 == 0:
                with self.lock:
                    self.kept.append(case)
                continue
            weight = (1.3 if case["same"] == 1 and case["older"] > LAYERED else 0.7 if case["same"] == 0 else 1.0) \
                * min(3.0, math.sqrt(len(case["inside"]) / 8000))
            made = case["name"].startswith("made")
            on = dict(x=torch.from_numpy(case["x"].copy()).to(self.device).permute(2, 0, 1).contiguous(),
                      y=torch.from_numpy(case["y"].copy()).to(self.device).permute(2, 0, 1).contiguous(),
                      inside=case["inside"], same=case["same"], shape=case["x"].shape[:2])
            with self.lock:
                self.learn.append(on)
                self.weights.append(weight)
                self.made.append(made)

    def watch(self):
        while True:
            self.look()
            time.sleep(5)

    def draw(self, random, n):
        with self.lock:
            weights, made = np.array(self.weights), np.array(self.made)
            if made.any() and not made.all():  # as much of the one world as of the other
                weights = weights * np.where(made, 1 / weights[made].sum(), 1 / weights[~made].sum())
            return [self.learn[k] for k in random.choice(len(weights), n, p=weights / weights.sum())]


def smooth_noise(n, size, device):
    """Uneven in n x 1 x size x size, each at its own scale."""
    made = []
    for _ in range(n):
        cells = int(np.random.choice([3, 5, 8, 14, 28, 50]))
        made.append(F.interpolate(torch.randn(1, 1, cells, cells, device=device), (size, size), mode="bicubic", align_corners=True))
    return torch.cat(made)


def uniform(n, low, high, device):
    return low + (high - low) * torch.rand(n, 1, 1, 1, device=device)


def chance(n, p, device):
    return (torch.rand(n, 1, 1, 1, device=device) < p).float()


def batch_of(random, cases, n, device):
    xs, ys = [], []
    grid1 = torch.linspace(-1, 1, CROP, device=device) * (CROP - 1) / 2
    v, u = torch.meshgrid(grid1, grid1, indexing="ij")
    for case in cases.draw(random, n):
        rows, cols = case["shape"]
        at = case["inside"][random.integers(len(case["inside"]))]
        scale = math.exp(random.uniform(math.log(0.75), math.log(1.35)))
        turn = random.uniform(0, 2 * math.pi) if random.random() < 0.6 else random.integers(4) * math.pi / 2
        if turn == 0 or random.random() < 0.3:
            scale = 1.0
        flip = -1 if random.random() < 0.5 else 1
        spread = 0.5 if min(rows, cols) > CROP * 0.7 else 0.25  # small markings are seen whole
        r0 = at // cols + random.normal(0, 0.4 * spread * CROP)
        c0 = at % cols + random.normal(0, 0.4 * spread * CROP)
        if rows < CROP * 0.9 and cols < CROP * 0.9:
            r0, c0 = rows / 2 + random.normal(0, 10), cols / 2 + random.normal(0, 10)
        cs, sn = math.cos(turn) / scale, math.sin(turn) / scale
        c = c0 + flip * u * cs - v * sn
        r = r0 + flip * u * sn + v * cs
        if scale == 1.0 and abs(turn / (math.pi / 2) - round(turn / (math.pi / 2))) < 1e-9:
            c, r = c.round(), r.round()  # not softened
        grid = torch.stack([c / max(cols - 1, 1) * 2 - 1, r / max(rows - 1, 1) * 2 - 1], -1)[None]
        outside = ((c < 0) | (c > cols - 1) | (r < 0) | (r > rows - 1))[None]
        x = F.grid_sample(case["x"].float()[None], grid, mode="bilinear", padding_mode="border", align_corners=True)[0]
        y = F.grid_sample(case["y"].float()[None] / 250, grid, mode="bilinear", padding_mode="border", align_corners=True)[0]
        light = torch.where(outside, DARK, x[:3])
        xs.append(torch.cat([light, torch.where(outside, -1.0, x[3:])]))
        ys.append(torch.where(outside, 0.0, y))
    x, y = torch.stack(xs), torch.stack(ys)
    light, inside = x[:, :3], x[:, 3:]
    blank = (light[:, :1] <= DARK + 0.01)
    # softer than the photo was
    soft = F.avg_pool2d(F.pad(light, (1, 1, 1, 1), mode="replicate"), 3, 1)
    light = light + (soft - light) * chance(n, 0.3, device) * uniform(n, 0.2, 1.0, device)
    # exposure, contrast of the tone curve, tint
    light = light * uniform(n, 0.88, 1.12, device) + torch.randn(n, 1, 1, 1, device=device) * 0.06
    light = light + torch.randn(n, 3, 1, 1, device=device) * 0.03
    # uneven light or film, never sharp
    light = light + smooth_noise(n, CROP, device) * chance(n, 0.4, device) * uniform(n, 0.02, 0.14, device)
    # a shadow goes on over the outline
    turn = uniform(n, 0, 2 * math.pi, device)
    d = (u * torch.cos(turn) + v * torch.sin(turn)) / (CROP / 2) - uniform(n, -0.9, 0.9, device)
    d = d + smooth_noise(n, CROP, device) * chance(n, 0.5, device) * uniform(n, 0.1, 0.5, device)
    shade = torch.sigmoid(d / torch.exp(uniform(n, math.log(0.01), math.log(0.2), device)))
    depth = uniform(n, 0.1, 1.3, device) * chance(n, 0.15, device)
    light = light - shade * depth * torch.cat([torch.ones_like(depth), torch.full_like(depth, 0.95), uniform(n, 0.7, 0.95, device)], 1)
    # and so does that of leaves, in spots of several sizes
    leaves = smooth_noise(n, CROP, device) + uniform(n, 0, 1, device) * smooth_noise(n, CROP, device) - uniform(n, -1, 1, device)
    shade = torch.sigmoid(leaves / torch.exp(uniform(n, math.log(0.05), math.log(0.6), device)))
    depth = uniform(n, 0.2, 1.5, device) * chance(n, LEAVES, device)
    light = light - shade * depth * torch.cat([torch.ones_like(depth), torch.full_like(depth, 0.95), uniform(n, 0.7, 0.95, device)], 1)
    # soil in patches, over everything
    soil = torch.sigmoid((smooth_noise(n, CROP, device) - uniform(n, 0, 1.5, device)) * uniform(n, 2, 10, device))
    depth = uniform(n, 0.05, 0.5, device) * chance(n, 0.15, device)
    light = light - soil * depth * torch.cat([uniform(n, 0.8, 1, device), torch.ones_like(depth), uniform(n, 1, 1.3, device)], 1)
    light = light + torch.randn_like(light) * uniform(n, 0, 0.05, device) * chance(n, 0.5, device)
    light = torch.where(blank, DARK, light.clamp(DARK, 0.7))
    # the outline is known to some millimetres only
    for k in range(n):
        if random.random() < 0.5:
            inside[k] = torch.roll(inside[k], (int(random.integers(-2, 3)), int(random.integers(-2, 3))), (1, 2))
    top, older = y[:, :1].clamp(0, 1), y[:, 1:2].clamp(0, 1)
    truth = torch.cat([(1 - top - older).clamp(0, 1), top, older], 1)
    return torch.cat([light, inside], 1), truth / truth.sum(1, keepdim=True).clamp_min(1e-6), y[:, 2].clamp(0, 1)


@torch.no_grad()
def read_whole(net, case, device):
    x = torch.from_numpy(case["x"].astype(np.float32)).to(device).permute(2, 0, 1)[None]
    h, w = x.shape[2:]
    pad = (0, -w % 32, 0, -h % 32)
    light, inside = F.pad(x[:, :3], pad, value=DARK), F.pad(x[:, 3:], pad, value=-1.0)
    spots, whole = net(torch.cat([light, inside], 1))
    spots = spots.float()[0, :, :h, :w]
    return (torch.softmax(spots[:FLAKED], 0).cpu().numpy(), torch.sigmoid(spots[FLAKED]).cpu().numpy(),
            float(torch.sigmoid(whole.float()).item()))


def check(net, cases, device):
    net.eval()
    rows = []
    for case in cases:
        p, flaked, whole = read_whole(net, case, device)
        inside = case["x"][..., 3] > 0.1
        older = p[OLDER][inside]
        gone = (p[BARE] + p[OLDER])[inside]
        rows.append((case["same"], case["older"], float(older[older > 0.5].sum() / max(1, inside.sum())), float(older.mean()),
                     float(p[TOP][inside].mean()), float(case["y"][..., 0][inside].mean() / 250), whole,
                     float((gone * flaked[inside]).mean()), float(case["y"][..., 2][inside].mean() / 250)))
    net.train()
    rows = np.array(rows).reshape(-1, 9)
    layered, none = rows[(rows[:, 0] == 1) & (rows[:, 1] > 0.05)], rows[rows[:, 1] < 0.005]
    if len(layered) < 5 or len(none) < 5:
        return dict(rows=rows.tolist())
    figures = dict(layered=len(layered), none=len(none))
    for name, k in (("spots", 2), ("mean", 3), ("whole", 6)):
        a, b = layered[:, k], none[:, k]
        figures["auc_" + name] = float((a[:, None] > b[None]).mean() + 0.5 * (a[:, None] == b[None]).mean())
        figures["found2_" + name] = float((a > np.quantile(b, 0.98)).mean())
    figures.update(older_error=float(np.abs(layered[:, 2] - layered[:, 1]).mean()), if_never=float(layered[:, 1].mean()),
                   top_error=float(np.abs(rows[:, 4] - rows[:, 5]).mean()), top_error_none=float(np.abs(none[:, 4] - none[:, 5]).mean()),
                   flaked_error=float(np.abs(none[:, 7] - none[:, 8]).mean()), flaked_if_mean=float(np.abs(none[:, 8] - none[:, 8].mean()).mean()),
                   flaked_over_tenth=float(((none[:, 7] > 0.1) == (none[:, 8] > 0.1)).mean()), rows=rows.tolist())
    return figures


def told(figures):
    return {k: round(v, 3) for k, v in figures.items() if k != "rows"}


def export(net, file):
    """One file in opset 11, which OpenCV reads."""
    how = dict(opset_version=11, input_names=["plan"], output_names=["coats", "whole"],
               dynamic_axes={"plan": {2: "h", 3: "w"}, "coats": {2: "h", 3: "w"}})
    if "dynamo" in inspect.signature(torch.onnx.export).parameters:
        how["dynamo"] = False
    torch.onnx.export(net.eval(), torch.zeros(1, 4, 96, 128), file, **how)


def load_onnx(net, file, looks):
    """The weights of `export`'s file, where every norm has been folded into the convolution before it. What such a norm would
    have had for mean and spread is taken from `looks`, so that training goes on from there."""
    import onnx
    from onnx import numpy_helper
    graph = onnx.load(file).graph
    known = {tensor.name: numpy_helper.to_array(tensor) for tensor in graph.initializer}
    nodes = [node for node in graph.node if node.op_type in ("Conv", "ConvTranspose")]
    order = []
    kinds = (nn.Conv2d, nn.ConvTranspose2d, nn.BatchNorm2d)
    hooks = [m.register_forward_hook(lambda m, i, o: order.append(m)) for m in net.modules() if isinstance(m, kinds)]
    net.eval()
    net(looks[:1])
    for hook in hooks:
        hook.remove()
    folded, k = [], 0
    for m, after in zip(order, order[1:] + [None]):
        if isinstance(m, nn.BatchNorm2d):
            continue
        weight, bias = (torch.from_numpy(known[name].copy()).to(looks.device) for name in nodes[k].input[1:3])
        k += 1
        if m is net.out and len(bias) == FLAKED:  # of a net that did not tell flakes yet
            weight = torch.cat([weight, m.weight.data.narrow(1, FLAKED, 1)], 1)
            bias = torch.cat([bias, m.bias.data.narrow(0, FLAKED, 1)])
        m.weight.data.copy_(weight)
        if m.bias is not None:
            m.bias.data.copy_(bias)
        else:
            folded.append((after, bias))
    assert k == len(nodes), "another net"

    def settle(bias):
        def hook(norm, inputs):
            seen = inputs[0].float()
            norm.running_mean.copy_(seen.mean((0, 2, 3)))
            norm.running_var.copy_(seen.var((0, 2, 3)))
            norm.weight.data.copy_(torch.sqrt(norm.running_var + norm.eps))
            norm.bias.data.copy_(bias + norm.running_mean)
        return hook
    hooks = [norm.register_forward_pre_hook(settle(bias)) for norm, bias in folded]
    with torch.no_grad():
        net(looks)
    for hook in hooks:
        hook.remove()


def main():
    parse = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parse.add_argument("folders", nargs="*")
    parse.add_argument("--out", required=True)
    parse.add_argument("--minutes", type=float, default=25)
    parse.add_argument("--seed", type=int, default=1)
    parse.add_argument("--resume")
    parse.add_argument("--peak", type=float, default=2e-3)
    parse.add_argument("--batch", type=int, default=24)
    parse.add_argument("--first", type=int, default=150, help="markings to wait for")
    parse.add_argument("--part", default="0/1", help="I/N: learns from every Nth file alone; N cards then hold N times as many markings")
    parse.add_argument("--average", nargs="+")
    options = parse.parse_args()
    os.makedirs(options.out, exist_ok=True)
    if options.average:
        ends = [torch.load(file, map_location="cpu") for file in options.average]
        net = CoatReader()
        net.load_state_dict({k: sum(end[k] for end in ends) / len(ends) if v.dtype.is_floating_point else v for k, v in ends[0].items()})
        torch.save(net.state_dict(), os.path.join(options.out, "coats.pt"))
        export(net, os.path.join(options.out, "coats.onnx"))
        return
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    torch.manual_seed(options.seed)
    np.random.seed(options.seed)
    random = np.random.default_rng(options.seed)
    cases = Cases(options.folders, device, tuple(int(n) for n in options.part.split("/")))
    begin = time.time()
    threading.Thread(target=cases.watch, daemon=True).start()
    while len(cases.learn) < options.first and time.time() - begin < 300:
        time.sleep(1)
    net = CoatReader().to(device)
    if options.resume and options.resume.endswith(".onnx"):
        with torch.no_grad():
            load_onnx(net, options.resume, batch_of(random, cases, 96, device)[0])
        print("begins with", told(check(net, cases.kept[:300], device)), flush=True)
    elif options.resume:
        known = torch.load(options.resume, map_location=device)
        if known["out.bias"].numel() == FLAKED:  # of a net that did not tell flakes yet
            for k, dim in (("out.weight", 1), ("out.bias", 0)):
                known[k] = torch.cat([known[k], net.state_dict()[k].narrow(dim, FLAKED, 1)], dim)
        net.load_state_dict(known)
    mean = {k: v.clone() for k, v in net.state_dict().items()}
    optimiser = torch.optim.AdamW(net.parameters(), options.peak, weight_decay=1e-2)
    step, shown, losses = 0, 1, []

    def judge(count, made):
        eye = CoatReader().to(device)
        eye.load_state_dict(mean)
        with cases.lock:
            kept = [case for case in cases.kept if case["name"].startswith("made") == made][:count]
        return check(eye, kept, device)
    while (past := (time.time() - begin) / (60 * options.minutes)) < 1:
        rate = options.peak * min(1, step / 200) * (0.5 + 0.5 * math.cos(math.pi * past)) + 1e-6
        for group in optimiser.param_groups:
            group["lr"] = rate
        with torch.no_grad():
            x, truth, flaked = batch_of(random, cases, options.batch, device)
        with torch.autocast(device.type, torch.bfloat16, enabled=device.type == "cuda"):
            spots, whole = net(x)
        logs = F.log_softmax(spots[:, :FLAKED].float(), 1)
        inside = (x[:, 3] > 0).float()
        area = inside.sum((1, 2)).clamp_min(1)
        per = (-(truth * logs).sum(1) * inside).sum((1, 2)) / area
        older = (truth[:, OLDER] * inside).sum((1, 2)) / area
        clear = ((older < 0.005) | (older > 0.03)).float()
        said = F.binary_cross_entropy_with_logits(whole.float()[:, 0, 0, 0], (older > LAYERED).float(), reduction="none")
        shares = ((logs.exp() - truth) * inside[:, None]).sum((2, 3)) / area[:, None]  # what is left and what is bare, of the whole
        # what is lost went by flakes or otherwise: asked of the true loss, so that it says nothing of how much is lost
        lost = (1 - truth[:, TOP]) * inside
        all_lost = lost.sum((1, 2))
        went = F.binary_cross_entropy_with_logits(spots[:, FLAKED].float(), (flaked / lost.clamp_min(1e-3)).clamp(0, 1), reduction="none")
        of_flakes = ((torch.sigmoid(spots[:, FLAKED].float()) * lost - flaked * inside).sum((1, 2))).abs()
        causes = ((went * lost).sum((1, 2)) + 2 * of_flakes) / (all_lost + 0.03 * area)
        loss = per.mean() + 0.3 * causes.mean() + 0.2 * (said * clear).mean() + 0.5 * shares[:, :2].abs().sum(1).mean()
        optimiser.zero_grad()
        loss.backward()
        nn.utils.clip_grad_norm_(net.parameters(), 1.0)
        optimiser.step()
        step += 1
        losses.append(loss.detach())
        keep = min(0.9985, 1 - 1 / (step / 4 + 1))
        with torch.no_grad():
            for k, value in net.state_dict().items():
                if value.dtype.is_floating_point:
                    mean[k].mul_(keep).add_(value, alpha=1 - keep)
                else:
                    mean[k].copy_(value)
        if time.time() - begin > 120 * shown:
            shown += 1
            print(f"{time.time() - begin:.0f} s step {step} of {len(cases.learn)} markings ({sum(cases.made)} made up), "
                  f"loss {torch.stack(losses[-200:]).mean():.4f}", flush=True)
            for made in (False, True):
                print("  made up" if made else "  rendered", told(judge(250, made)), flush=True)
            torch.save(mean, os.path.join(options.out, "coats.pt"))
    torch.save(mean, os.path.join(options.out, "coats.pt"))
    figures = {"rendered": judge(100000, False), "made up": judge(100000, True)}
    for part in figures.values():
        print(told(part), flush=True)
    figures.update(steps=step, minutes=options.minutes, seed=options.seed, markings=len(cases.learn))
    json.dump(figures, open(os.path.join(options.out, "figures.json"), "w"))
    net = CoatReader()
    net.load_state_dict({k: v.cpu() for k, v in mean.items()})
    export(net, os.path.join(options.out, "coats.onnx"))


if __name__ == "__main__":
    main()
