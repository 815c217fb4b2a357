"""Trains the finder on rendered scenes, on any number of GPUs, for a given time.

    python3 train.py --out DIR --seconds 1400           one process a GPU is started here
    python3 train.py --out DIR --seconds 60 --tiny      a trial on the CPU
    python3 train.py ... --examples DIR... --share 0.5  half of the pictures from files of finder_examples (second_world.py)

Writes to DIR: log.txt, last.pt and ema.pt every minute, at the end figures.json, validation.jpg, finder.onnx.
"""
import argparse
import copy
import json
import math
import os
import resource
import time
from pathlib import Path

import numpy as np
import torch
import torch.distributed as dist
import torch.multiprocessing as mp
from torch.utils.data import DataLoader, IterableDataset, get_worker_info

from export import export
from losses import Figures, finder_loss
from network import Finder
from preview import pair, sheet
from render import Renderer
from scene import make_scene
from second_world import SecondWorld, held_back
from take_up import take_up
from textures import Bank

SIZES = ((1024, 768), (768, 1024), (768, 768), (1024, 576), (576, 1024), (832, 640), (640, 832))
TINY_SIZES = ((128, 128), (192, 128))
VALIDATION_STREAM = 999  # a rank that no training process has
STEPS_PER_BANK = 250


class Scenes(IterableDataset):
    """Endless batches of scenes; a batch has one size. Every scene's seed is (run, process, worker, count)."""

    def __init__(self, seed, rank, batch, sizes, limit=None):
        self.seed, self.rank, self.batch, self.sizes, self.limit = seed, rank, batch, sizes, limit

    def __iter__(self):
        worker = get_worker_info().id if get_worker_info() else 0
        count = 0
        while self.limit is None or count < self.limit:
            width, height = self.sizes[(count // self.batch + worker) % len(self.sizes)]
            scenes = []
            while len(scenes) < self.batch:
                seed = [self.seed, self.rank, worker, count]
                count += 1
                try:
                    scenes.append(make_scene(seed, width, height))
                except ValueError as trouble:  # one degenerate shape in ten thousand must not end a run
                    print(f"scene {seed} left out: {trouble}", flush=True)
            yield {name: torch.from_numpy(np.stack([scene[name] for scene in scenes])) for name in scenes[0]}


class Ema:
    """Running mean of the weights, faster at the start."""

    def __init__(self, model, decay=0.9992):
        self.model, self.decay, self.steps = copy.deepcopy(model).eval(), decay, 0

    @torch.no_grad()
    def update(self, model):
        self.steps += 1
        keep = min(self.decay, 1 - 1 / (0.1 * self.steps + 2))
        for mean, value in zip(self.model.state_dict().values(), model.state_dict().values()):
            if mean.dtype.is_floating_point:
                mean.lerp_(value, 1 - keep)
            else:
                mean.copy_(value)


class Replay:
    """Rendered batches kept on the device and used once more, mirrored: rendering takes longer than learning."""

    def __init__(self, seed, room=100):
        self.random, self.room, self.batches = np.random.default_rng(seed), room, []

    def older(self):
        """Some batch that is kept, as it is."""
        return tuple(part.float() for part in self.batches[self.random.integers(len(self.batches))])

    def exchange(self, batch):
        """Keeps a batch and gives an older one, mirrored."""
        batch = tuple(part.half() for part in batch)
        if len(self.batches) < self.room:
            self.batches.append(batch)
            older = self.batches[self.random.integers(len(self.batches))]
        else:
            k = self.random.integers(self.room)
            older, self.batches[k] = self.batches[k], batch
        return tuple(part.flip(3).float() for part in older)


class Turns:
    """How many batches of the second world follow each two of the first, so that they are a given share of all.

    Depends on nothing but the share: every process learns equally often, or they would wait for each other forever."""

    def __init__(self, share):
        self.each_step, self.due = 2 * share / (1 - share), 0.0

    def step(self):
        self.due += self.each_step
        whole = int(self.due + 1e-9)
        self.due -= whole
        return whole


class Clock:
    """Where a step's time goes; waits for the device at each lap, which costs little as the loss is read at every step."""

    def __init__(self, device):
        self.device, self.last, self.laps = device, time.time(), []

    def lap(self, name):
        if self.device.type == "cuda":
            torch.cuda.synchronize(self.device)
        now = time.time()
        self.laps.append(f"{name} {(now - self.last) * 1e3:.0f} ms")
        self.last = now

    def __str__(self):
        return ", ".join(self.laps)


def learning_rate(progress, step, peak):
    return peak * min(1.0, (step + 1) / 100) * (0.5 + 0.5 * math.cos(math.pi * progress)) + 1e-6


def to_device(scene, device):
    return {name: value.to(device, non_blocking=True) for name, value in scene.items()}


def learn(model, optimiser, picture, layers, kinds):
    with torch.autocast(picture.device.type, torch.bfloat16):
        outputs = model(picture)
    loss = finder_loss(*outputs, layers, kinds)
    optimiser.zero_grad(set_to_none=True)
    loss.backward()
    if torch.nn.utils.clip_grad_norm_(model.parameters(), 2.0).isfinite():
        optimiser.step()
    return loss


def shared_progress(started, seconds, device, together):
    """The first process's clock, so that all processes take the same step size and stop together."""
    progress = torch.tensor([(time.time() - started) / seconds], device=device)
    if together:
        dist.broadcast(progress, 0)
    return min(progress.item(), 1.0)


def train(rank, ranks, options):
    on_gpu = torch.cuda.is_available()
    device = torch.device("cuda", rank) if on_gpu else torch.device("cpu")
    if on_gpu:
        torch.cuda.set_device(device)
    if ranks > 1:
        dist.init_process_group("nccl" if on_gpu else "gloo", rank=rank, world_size=ranks)
    torch.manual_seed(options.seed)
    model = Finder().to(device)
    if options.resume and options.resume.suffix == ".onnx":
        scenes = next(iter(Scenes(options.seed, VALIDATION_STREAM + 1, options.batch, TINY_SIZES if options.tiny else SIZES)))
        take_up(model, options.resume, Renderer(Bank(options.seed, device))(to_device(scenes, device))[0])
    elif options.resume:
        model.load_state_dict(torch.load(options.resume, map_location=device))
    stepped = model
    if ranks > 1:
        stepped = torch.nn.parallel.DistributedDataParallel(model, device_ids=[rank] if on_gpu else None)
    ema = Ema(model)
    optimiser = torch.optim.AdamW(model.parameters(), lr=options.peak, weight_decay=0.02, betas=(0.9, 0.98))
    sizes = TINY_SIZES if options.tiny else SIZES
    batches = iter(DataLoader(Scenes(options.seed, rank, options.batch, sizes), batch_size=None,
                              num_workers=options.workers, pin_memory=on_gpu, prefetch_factor=3))
    second, turns = None, Turns(options.share if options.examples else 0)
    if options.examples:
        second = SecondWorld(options.examples, options.seed, rank, options.batch, sizes, options.readers, device)
    log = (options.out / "log.txt").open("a") if rank == 0 else None
    started = saved = told = time.time()
    step, mean_loss, render, replay = 0, None, None, Replay(options.seed + rank)
    second_learned, second_loss = 0, 0.0
    while True:
        progress = shared_progress(started, options.seconds, device, ranks > 1)
        if progress >= 1:
            break
        if step % STEPS_PER_BANK == 0:
            render = Renderer(Bank(options.seed * 1000 + step * ranks + rank, device))
        for group in optimiser.param_groups:
            group["lr"] = learning_rate(progress, step, options.peak)
        clock = Clock(device)
        scene = to_device(next(batches), device)
        clock.lap("wait")
        picture, layers, kinds = render(scene)
        clock.lap("render")
        loss = learn(stepped, optimiser, picture, layers, kinds)
        learn(stepped, optimiser, *replay.exchange((picture, layers, kinds)))
        for _ in range(turns.step()):
            batch = second.batch()
            loss_there = learn(stepped, optimiser, *(batch or replay.older()))
            if batch:
                second_learned, second_loss = second_learned + 1, loss_there.detach()
        ema.update(model)
        clock.lap("learn")
        step += 1
        if rank == 0:
            value = loss.item()
            mean_loss = value if mean_loss is None else mean_loss + 0.02 * (value - mean_loss)
            now = time.time()
            if now - told > 10:
                line = f"{now - started:.0f} s step {step} loss {mean_loss:.4f} {clock}"
                if on_gpu:
                    line += f" memory {torch.cuda.max_memory_allocated() / 2 ** 30:.1f} GiB"
                if second:
                    line += f" second world {second_learned} batches, loss {float(second_loss):.4f}"
                print(line, file=log, flush=True)
                told = now
            if now - saved > 60:
                save(model, ema, options.out)
                saved = now
    del batches
    if rank == 0:
        save(model, ema, options.out)
        print(f"done after {step} steps of {options.batch * ranks} pictures, loss {mean_loss:.4f}", file=log, flush=True)
        finish(ema.model, options, step, sizes, device, log)
    if ranks > 1:
        dist.barrier()
        dist.destroy_process_group()


def save(model, ema, out):
    for name, weights in (("last", model), ("ema", ema.model)):
        torch.save(weights.state_dict(), out / f"{name}.tmp")
        (out / f"{name}.tmp").rename(out / f"{name}.pt")


@torch.no_grad()
def judged(model, batches, shown, file):
    """Figures over batches of picture, layers, kinds; also a contact sheet of the pictures of a `shown` size (height, width),
    their labels and answers."""
    figures, pairs = Figures(), []
    for picture, layers, kinds in batches:
        found_layers, found_kinds = (logits.float().softmax(1) for logits in model(picture))
        figures.add(found_layers, found_kinds, layers, kinds)
        if shown(*picture.shape[2:]) and len(pairs) < 12:
            small = picture[0].cpu().numpy()
            pairs.append(np.concatenate([pair(small, layers[0].cpu().numpy()),
                                         pair(small, found_layers[0].cpu().numpy())[:, small.shape[2]:]], 1)[::2, ::2])
    if len(pairs) > 1:
        sheet(pairs, 2).save(file, quality=85)
    return figures.report()


def validate(model, options, sizes, device, out):
    """Held-out scenes and textures."""
    render = Renderer(Bank(777, device))
    loader = DataLoader(Scenes(options.seed, VALIDATION_STREAM, 4, sizes, limit=options.validation), batch_size=None,
                        num_workers=min(options.workers, 4))
    torch.manual_seed(1)
    batches = (render(to_device(scene, device)) for scene in loader)
    return judged(model, batches, lambda height, width: (width, height) == sizes[0], out / "validation.jpg")


def validate_there(model, options, device, out):
    """The scenes of the second world that were kept back."""
    return judged(model, held_back(options.examples, device), lambda height, width: width > height, out / "validation-second.jpg")


def finish(model, options, steps, sizes, device, log):
    report = validate(model, options, sizes, device, options.out)
    if options.examples:
        report["second_world"] = validate_there(model, options, device, options.out)
    report.update(steps=steps, seed=options.seed, seconds=options.seconds)
    (options.out / "figures.json").write_text(json.dumps(report, indent=1))
    print(json.dumps(report), file=log, flush=True)
    export(model.cpu(), options.out / "finder.onnx")
    print("exported", file=log, flush=True)


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--seconds", type=float, default=1400)
    parser.add_argument("--batch", type=int, default=10, help="pictures a GPU and step")
    parser.add_argument("--workers", type=int, default=14, help="scene makers a GPU")
    parser.add_argument("--peak", type=float, default=2.5e-3, help="highest learning rate")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--validation", type=int, default=48, help="held-out scenes a worker")
    parser.add_argument("--resume", type=Path, help="weights or exported model to start from")
    parser.add_argument("--examples", type=Path, nargs="+", help="folders of finder_examples, the second world")
    parser.add_argument("--share", type=float, default=0.5, help="of all batches, from --examples as soon as some are there")
    parser.add_argument("--readers", type=int, default=3, help="processes a GPU that read --examples")
    parser.add_argument("--ranks", type=int, default=max(1, torch.cuda.device_count()))
    parser.add_argument("--tiny", action="store_true", help="small pictures, for a trial")
    options = parser.parse_args()
    if not 0 <= options.share < 1:
        parser.error("--share lies from 0 to below 1")
    options.out.mkdir(parents=True, exist_ok=True)
    limit = resource.getrlimit(resource.RLIMIT_NOFILE)[1]  # scenes come from the workers as many open files
    resource.setrlimit(resource.RLIMIT_NOFILE, (limit, limit))
    if options.ranks == 1:
        train(0, 1, options)
        return
    os.environ.setdefault("MASTER_ADDR", "127.0.0.1")
    os.environ.setdefault("MASTER_PORT", "29533")
    mp.spawn(train, (options.ranks, options), nprocs=options.ranks)


if __name__ == "__main__":
    main()
