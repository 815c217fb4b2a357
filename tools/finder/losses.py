"""Loss and figures of merit over soft labels."""
import torch
import torch.nn.functional as F

from network import FIRST_MARKING_LAYER, KINDS


def footprint(layers):
    return layers[:, FIRST_MARKING_LAYER:].sum(1)


NEIGHBOURHOOD_CELLS, SEEN_SHARE = 7, 0.08


def seen(layers):
    """How far a spot once painted shows it, 0 to 1: by the share of paint left within about 50 pixels of the maps.

    Where nothing is left nobody can say what was painted; asking the net for it teaches it to light up bare pavement."""
    coarse = F.avg_pool2d(torch.stack([layers[:, FIRST_MARKING_LAYER:FIRST_MARKING_LAYER + 2].sum(1), footprint(layers)], 1), 8)
    near = F.avg_pool2d(coarse, NEIGHBOURHOOD_CELLS, 1, NEIGHBOURHOOD_CELLS // 2)
    share = near[:, :1] / near[:, 1:].clamp(min=1e-4)
    return F.interpolate((share / SEEN_SHARE).clamp(max=1), scale_factor=8, mode="nearest")[:, 0]


# By how often a kind's cells occur in the training scenes, softened: lines are common, words and yield lines are not.
# Bare pavement hardly counts: seven eighths of all cells are, and with them in the mean arrows were never learned.
KIND_WEIGHTS = dict(none=0.03, line=3, stop_line=5, crosswalk=4, arrow=5, accessible_symbol=5, hatching=4, legend=6,
                    yield_line=6, curb=3)
KIND_FACTOR = 0.8


def kind_loss(logits, kinds):
    """Soft cross entropy over the kinds, as a mean weighted by kind."""
    weights = torch.tensor([KIND_WEIGHTS[name] for name in KINDS], dtype=torch.float32, device=kinds.device)
    each = weights[None, :, None, None] * kinds
    return -(each * F.log_softmax(logits.float(), 1)).sum() / each.sum()


def finder_loss(layer_logits, kind_logits, layers, kinds):
    """Soft cross entropy that counts markings threefold where they show, dice of the footprint, and the kinds where
    something is painted."""
    log_shares = F.log_softmax(layer_logits.float(), 1)
    painted = footprint(layers)
    weight = 1 - painted + painted * (0.1 + 2.9 * seen(layers))
    entropy = -(weight * (layers * log_shares).sum(1)).mean()
    counted = (weight + 0.1).clamp(max=1)
    found = footprint(log_shares.exp()) * counted
    painted = painted * counted
    overlap = (found * painted).flatten(1).sum(1)
    total = (found + painted).flatten(1).sum(1)
    dice = (1 - (2 * overlap + 50) / (total + 50)).mean()
    return entropy + 0.5 * dice + KIND_FACTOR * kind_loss(kind_logits, kinds)


class Figures:
    """Sums over pictures; `report` turns them into the figures that the README quotes."""

    def __init__(self):
        self.overlap = self.union = self.painted = self.found_painted = 0.0
        self.picture_overlaps, self.remaining_errors = [], []
        self.kind_right = self.kind_count = 0
        self.kind_table = torch.zeros(len(KINDS), len(KINDS))
        self.false_share, self.empty_pictures = 0.0, 0

    def add(self, found_layers, found_kinds, layers, kinds):
        found, painted = footprint(found_layers) > 0.5, footprint(layers) > 0.5
        for n in range(len(found)):
            overlap = (found[n] & painted[n]).sum().item()
            union = (found[n] | painted[n]).sum().item()
            self.overlap += overlap
            self.union += union
            self.painted += painted[n].sum().item()
            self.found_painted += overlap
            if painted[n].sum() > 200:
                self.picture_overlaps.append(overlap / max(union, 1))
                self.remaining_errors.append(abs(_remaining(found_layers[n], found[n]) - _remaining(layers[n], painted[n])))
            elif painted[n].sum() == 0:
                self.empty_pictures += 1
                self.false_share += found[n].float().mean().item()
        clear = kinds[:, 1:].sum(1) > 0.5
        truth, answer = kinds[:, 1:].argmax(1)[clear] + 1, found_kinds[:, 1:].argmax(1)[clear] + 1
        self.kind_table += torch.bincount(truth * len(KINDS) + answer, minlength=len(KINDS) ** 2).view_as(self.kind_table).cpu()

    def report(self):
        overlaps = torch.tensor(self.picture_overlaps or [0.0])
        errors = torch.tensor(self.remaining_errors or [0.0])
        table = self.kind_table
        return {
            "pictures": len(self.picture_overlaps),
            "footprint_iou_pooled": round(self.overlap / max(self.union, 1), 4),
            "footprint_iou_mean": round(overlaps.mean().item(), 4), "footprint_iou_median": round(overlaps.median().item(), 4),
            "footprint_recall": round(self.found_painted / max(self.painted, 1), 4),
            "remaining_error_mean": round(100 * errors.mean().item(), 2),
            "remaining_error_p90": round(100 * errors.quantile(0.9).item(), 2),
            "kind_right": round((table.diag().sum() / table.sum().clamp(min=1)).item(), 4),
            "kind_right_by_kind": {name: round((table[k, k] / table[k].sum().clamp(min=1)).item(), 3)
                                   for k, name in enumerate(KINDS) if k},
            "empty_pictures": self.empty_pictures,
            "false_share_of_empty_pictures": round(self.false_share / max(self.empty_pictures, 1), 5)}


def _remaining(layers, inside):
    """Top coat's share of the footprint within a mask."""
    shares = layers[:, inside].sum(1)
    return (shares[FIRST_MARKING_LAYER] / shares[FIRST_MARKING_LAYER:].sum().clamp(min=1e-6)).item()
