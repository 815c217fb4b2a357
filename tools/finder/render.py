"""Turns scenes into pictures and exact labels on the GPU: textures, wear, light, lens, sensor.

Everything up to the sensor is computed at twice the picture's resolution and averaged over areas; the labels are the same
areas averaged down to half (layers) and an eighth (kinds) of the picture's resolution.
"""
import torch
import torch.nn.functional as F

from network import KINDS, LAYERS
from palette import CRACKED_BIT, GROUND, PAINT, PEELED_BIT, THING
from textures import CELLS_ACROSS, STONES_ACROSS

LUMINANCE = (0.2126, 0.7152, 0.0722)
PICTURE_TILE = 900.0  # patterns of upright things repeat after about as many pixels


def per_scene(value):
    """Scene numbers (N) as N x 1 x 1, to go with maps."""
    return value[:, None, None]


def normal_share(deviate):
    """Share of a standard normal below `deviate`."""
    return 0.5 * (1 + torch.erf(deviate * 0.70710678))


def step(low, high, value):
    t = ((value - low) / (high - low)).clamp(0, 1)
    return t * t * (3 - 2 * t)


class Table:
    """Parameters of each identity, spread over an identity map."""

    def __init__(self, columns, table, identities):
        self.columns, self.table, self.identities = columns, table, identities.long()

    def __getitem__(self, name):
        values = self.table[:, :, self.columns.index[name]]
        return values.gather(1, self.identities.flatten(1)).view(self.identities.shape)

    def colour(self):
        return torch.stack([self["red"], self["green"], self["blue"]], 1)


class Renderer:
    def __init__(self, bank):
        self.bank = bank

    @torch.no_grad()
    def __call__(self, scene):
        """scene: dict of N-first tensors -> picture N x 3 x H x W (sRGB 0..1), layers N x 7 x H/2 x W/2, kinds N x 10 x H/8 x W/8."""
        view = View(scene)
        looks = Looks(self.bank, scene, view)
        wear = Wear(scene, view, looks)
        albedo = pavement(scene, view, looks)
        albedo = paint_over(albedo, scene, looks, wear)
        radiance = lit(albedo, scene, view, looks, wear)
        radiance, thing = with_things(radiance, scene, view, looks)
        layers = layer_labels(wear, thing)
        kinds = kind_labels(wear, thing)
        picture = photographed(radiance, scene, thing)
        return picture, layers, kinds


class View:
    """Where each pixel of the supersampled picture meets the ground."""

    def __init__(self, scene):
        height, width = scene["paint"].shape[1:]
        device = scene["paint"].device
        focal, centre = per_scene(scene["focal"]), scene["centre"]
        x = (torch.arange(width, device=device) + 0.5)[None, None] - per_scene(centre[:, 0])
        y = (torch.arange(height, device=device) + 0.5)[None, :, None] - per_scene(centre[:, 1])
        x, y = torch.broadcast_tensors(x / focal, y / focal)
        self.x, self.y = x, y
        bend = 1 + per_scene(scene["radial"]) * (x * x + y * y)
        ray = torch.stack([x * bend, y * bend, torch.ones_like(x)], -1)
        ray = torch.einsum("nhwi,nij->nhwj", ray, scene["rotation"])
        drop = (-ray[..., 2]).clamp(min=0.01)
        reach = per_scene(scene["camera_height"]) / drop
        self.ground = (ray[..., :2] * reach[..., None]).clamp(-3e5, 3e5)
        across = reach / focal
        steepness = drop / ray.norm(dim=-1)
        self.per_pixel = across * steepness.clamp(min=0.02).rsqrt()


class Looks:
    """All texture look-ups of a picture."""

    def __init__(self, bank, scene, view):
        def look(texture, slot, tile, stretch=None, ground=view.ground):
            return texture.look(ground, view.per_pixel, tile, scene["shifts"][:, slot], scene["angles"][:, slot], stretch)
        self.bank = bank
        stone_tile = scene["stone_mm"] * STONES_ACROSS
        self.grain, self.grain_level = look(bank.grain, 0, stone_tile, scene["brushed"])
        self.clouds, _ = look(bank.clouds, 1, scene["cloud_tile"])
        self.middle, self.middle_level = look(bank.middle, 2, scene["middle_tile"])
        self.flakes, self.flakes_level = look(bank.flakes, 3, scene["flake_tile"])
        self.chips, self.chips_level = look(bank.cells, 4, scene["chips_tile"])
        warped = view.ground + (self.middle[:, :2] * per_scene(0.012 * scene["cells_tile"])[:, None]).permute(0, 2, 3, 1)
        self.cells, _ = look(bank.cells, 5, scene["cells_tile"], ground=warped)
        self.dapple, self.dapple_level = look(bank.flakes, 6, scene["dapple_tile"])


class Wear:
    """Shares of each pixel: what is left of the coats and how the rest went."""

    def __init__(self, scene, view, looks):
        bits = scene["paint"]
        self.top_id = bits & (PEELED_BIT - 1)
        coat = Table(PAINT, scene["paint_table"], self.top_id)
        older = Table(PAINT, scene["under_table"], scene["under"])
        self.coat, self.older = coat, older
        painted = (self.top_id > 0).float()
        covered_older = (scene["under"] > 0).float()
        self.crack = _crack_share(scene, view, looks)
        through = self.crack * per_scene(scene["crack_through"])
        cracked = torch.maximum(through, (bits & CRACKED_BIT).ne(0).float())
        self.flaked = torch.maximum(_flaked_share(scene, looks, coat), (bits & PEELED_BIT).ne(0).float())
        abraded = _abraded_share(scene, view, looks, coat, coat["abrasion"])
        older_left = covered_older * (1 - cracked) * (1 - _abraded_share(scene, view, looks, coat, older["older_loss"]))
        self.top = painted * (1 - cracked) * (1 - self.flaked) * (1 - abraded)
        self.lost_cracked = painted * cracked
        lost_flaked = painted * (1 - cracked) * self.flaked
        lost_abraded = painted * (1 - cracked) * (1 - self.flaked) * abraded
        self.older_seen = (lost_flaked + lost_abraded) * older_left + (1 - painted) * older_left
        self.lost_flaked = lost_flaked * (1 - older_left)
        self.lost_abraded = lost_abraded * (1 - older_left)


def _crack_share(scene, view, looks):
    """Cracks follow the borders of warped cells, where the clouds let them."""
    distance = looks.cells[:, 1] * per_scene(scene["cells_tile"] / CELLS_ACROSS)
    width = per_scene(scene["crack_width"]) * (looks.middle[:, 2] * 0.5).exp()
    sharp = ((width / 2 - distance) / view.per_pixel + 0.5).clamp(0, 1) * (width / view.per_pixel).clamp(max=1)
    return sharp * (looks.clouds[:, 0] > per_scene(scene["crack_level"]))


def _flaked_share(scene, looks, coat):
    """Sharp-edged chips and blobs, clustered by the clouds, thicker along cracks."""
    chips = coat["chips"]
    clusters = per_scene(scene["flake_clusters"])
    field = chips * looks.chips[:, 0] + (1 - chips) * looks.flakes[:, 0]
    rest = (1 - clusters ** 2).sqrt() * (chips ** 2 + (1 - chips) ** 2).rsqrt()
    field = clusters * looks.clouds[:, 1] + rest * field
    spread = rest * (chips * looks.bank.cells.spread_lost(looks.chips_level, 0)
                     + (1 - chips) * looks.bank.flakes.spread_lost(looks.flakes_level, 0))
    share = normal_share((field + coat["flaking"]) / (spread + 0.02))
    reach = per_scene(scene["crack_flaking"])
    near_crack = (looks.cells[:, 1] < reach * (1 + 0.8 * looks.middle[:, 0]) * 0.5).float()
    return torch.maximum(share, near_crack * (looks.clouds[:, 0] > per_scene(scene["crack_level"])))


def _abraded_share(scene, view, looks, coat, level):
    """Stone tops go first; more in the wheel paths; patchy."""
    by_stone, by_patch, by_wheel = coat["by_stone"], coat["by_patch"], coat["by_wheel"]
    patch = 0.7 * looks.middle[:, 0] + 0.7 * looks.clouds[:, 2]
    total = (by_stone ** 2 + by_patch ** 2 + 0.35 * by_wheel ** 2 + 0.05).sqrt()
    unresolved = ((by_stone * looks.bank.grain.spread_lost(looks.grain_level, 1)) ** 2
                  + (by_patch * 0.7 * looks.bank.middle.spread_lost(looks.middle_level, 0)) ** 2 + 0.05).sqrt()
    field = by_stone * looks.grain[:, 1] + by_patch * patch + by_wheel * _wheel_paths(scene, view)
    return normal_share((field + level * total) / unresolved)


def _wheel_paths(scene, view):
    """About -0.6 beside and 1.5 inside the wheel paths."""
    angle = scene["wheel_angle"]
    away = (view.ground - scene["wheel_place"][:, None, None]) * 1.0
    across = away[..., 0] * per_scene(angle.cos()) + away[..., 1] * per_scene(angle.sin())
    pitch = per_scene(scene["wheel_pitch"])
    folded = (across / pitch - (across / pitch).round()).abs() * pitch
    return 2.1 * torch.exp(-(folded / per_scene(scene["wheel_width"] * 0.6)) ** 2) - 0.6


# ---- colours --------------------------------------------------------------------------------------------------------

def _modulation(scene, looks):
    """Logarithm of the pavement's brightness variation by stone, height, grain, patches, clouds."""
    stone, height, fine, middle, cloud = (per_scene(scene["amounts"][:, k]) for k in range(5))
    rough = stone * looks.grain[:, 0] + height * (looks.grain[:, 1] - 0.5 * looks.grain[:, 1] ** 2).clamp(min=-3)
    return rough + fine * looks.grain[:, 4] + middle * looks.middle[:, 1], cloud * looks.clouds[:, 0]


def pavement(scene, view, looks):
    texture, cloud = _modulation(scene, looks)
    tint = scene["stone_tint"][:, :, None, None] * looks.grain[:, 0, None] * per_scene(scene["amounts"][:, 0])[:, None]
    albedo = scene["base"][:, :, None, None] * (texture + cloud)[:, None].exp() * tint.exp()
    albedo = albedo * _joints(scene, view, looks)[:, None]
    feature = Table(GROUND, scene["ground_table"], scene["ground"])
    cover = feature["cover"][:, None]
    own = feature.colour() * (feature["texture"] * texture + 0.5 * cloud)[:, None].exp()
    albedo = albedo + cover * (own - albedo)
    return albedo.clamp(0.004, 0.95)


def _joints(scene, view, looks):
    """Darkening along the joints of slabs or blocks, and a shade of its own for each."""
    angle = scene["joint_angle"]
    c, s = per_scene(angle.cos()), per_scene(angle.sin())
    u = view.ground[..., 0] * c + view.ground[..., 1] * s
    v = view.ground[..., 1] * c - view.ground[..., 0] * s
    width, shade = per_scene(scene["joint_width"]), per_scene(scene["joint_shade"])
    result = torch.ones_like(u)
    pitch_u, pitch_v = per_scene(scene["joint_pitch"][:, 0]), per_scene(scene["joint_pitch"][:, 1])
    row = torch.where(pitch_v > 0, (v / pitch_v.clamp(min=1)).floor(), torch.zeros_like(v))
    u = u + row * pitch_u * 0.5 * per_scene(scene["joint_stagger"])
    column = torch.where(pitch_u > 0, (u / pitch_u.clamp(min=1)).floor(), torch.zeros_like(u))
    for along, pitch in ((u, pitch_u), (v, pitch_v)):
        safe = pitch.clamp(min=1)
        distance = (along / safe - (along / safe).round()).abs() * safe
        share = ((width / 2 - distance) / view.per_pixel + 0.5).clamp(0, 1) * (width / view.per_pixel).clamp(max=1)
        result = result * (1 - share * (1 - shade) * (pitch > 0))
    block = torch.sin(row * 12.9898 + column * 78.233) * 43758.5453
    block = (block - block.floor() - 0.5) * per_scene(scene["joint_tone"])
    return result * (block * (pitch_u > 0) * (pitch_v > 0)).exp()


def paint_over(albedo, scene, looks, wear):
    """Coats over the pavement by their shares; what flaking laid bare is cleaner or darker than the rest."""
    texture, cloud = _modulation(scene, looks)
    bare = albedo * torch.where(wear.flaked > 0.5, per_scene(scene["exposed"]), torch.ones_like(wear.flaked))[:, None]
    crack = (wear.crack * (1 - wear.top * (1 - per_scene(scene["crack_through"]))))[:, None]
    bare = bare * (1 - crack * (1 - per_scene(scene["crack_shade"])[:, None]))
    relief = wear.coat["texture"] * (0.5 * texture).clamp(-0.8, 0.5) + 0.3 * cloud
    top = (wear.coat.colour() * relief[:, None].exp()).clamp(max=0.95)
    older = (wear.older.colour() * (0.3 * texture).clamp(-0.8, 0.5)[:, None].exp()).clamp(max=0.95)
    rest = (1 - wear.top - wear.older_seen)[:, None]
    albedo = rest * bare + wear.top[:, None] * top + wear.older_seen[:, None] * older
    return _soiled(albedo, scene, looks)


def _soiled(albedo, scene, looks):
    amount = per_scene(scene["soil"]) * step(0, 2.2, 0.8 * looks.clouds[:, 2] + 0.4 * looks.middle[:, 1]
                                             - per_scene(scene["soil_level"]))
    return albedo + amount[:, None] * (scene["soil_colour"][:, :, None, None] - albedo)


def _spots_and_tyres(albedo, scene, view, looks):
    height, width = albedo.shape[2:]
    for k in range(scene["spots"].shape[1]):
        spot = scene["spots"][:, k]
        row = (spot[:, 1] * height).long().clamp(0, height - 1)
        column = (spot[:, 0] * width).long().clamp(0, width - 1)
        centre = view.ground[torch.arange(len(spot), device=albedo.device), row, column]
        away = (view.ground - centre[:, None, None]) / per_scene(spot[:, 2].clamp(min=1))[..., None]
        stretch = per_scene(spot[:, 3].clamp(min=0.1))
        distance = ((away[..., 0] * stretch) ** 2 + (away[..., 1] / stretch) ** 2).sqrt() + 0.25 * looks.middle[:, 1]
        share = step(1.1, 0.5, distance) * per_scene(spot[:, 5])
        albedo = albedo + share[:, None] * (per_scene(spot[:, 4])[:, None] - albedo)
    for k in range(scene["tyres"].shape[1]):
        tyre = scene["tyres"][:, k]
        away = view.ground - scene["wheel_place"][:, None, None]
        c, s = per_scene(tyre[:, 1].cos()), per_scene(tyre[:, 1].sin())
        along = away[..., 1] * c - away[..., 0] * s
        across = away[..., 0] * c + away[..., 1] * s + per_scene(tyre[:, 0]) + per_scene(tyre[:, 2]) * along ** 2
        share = step(1.0, 0.6, across.abs() / per_scene(tyre[:, 3].clamp(min=1) / 2)) * per_scene(tyre[:, 4])
        albedo = albedo * (1 - share * (0.7 + 0.3 * looks.middle[:, 2]).clamp(0, 1))[:, None]
    return albedo


# ---- light ----------------------------------------------------------------------------------------------------------

def lit(albedo, scene, view, looks, wear):
    albedo = _spots_and_tyres(albedo, scene, view, looks)
    sun = _sun_share(scene, view, looks, albedo.shape[2:])
    angle = scene["relief_angle"]
    slope = looks.grain[:, 2] * per_scene(angle.cos()) + looks.grain[:, 3] * per_scene(angle.sin())
    smoothing = 1 - 0.6 * wear.top
    facing = (1 + 0.5 * per_scene(scene["relief"]) * slope * smoothing + _rims(scene, view, wear)).clamp(0.15, 2.2)
    light = (sun * facing)[:, None] * scene["sun_light"][:, :, None, None] + scene["sky_light"][:, :, None, None]
    shine = per_scene(scene["gloss"]) * 0.1 * sun * facing ** 2
    return albedo * light + shine[:, None]


def _rims(scene, view, wear):
    """Lifted edges of flakes catch the light on one side and throw a shadow on the other."""
    edge = wear.flaked - wear.flaked.roll((1, 1), (1, 2))
    return 1.5 * edge * per_scene(scene["rim"]) * (2.5 / view.per_pixel).clamp(max=1) * (wear.top_id > 0)


def _sun_share(scene, view, looks, size):
    """1 in the sun, 0 in full shade; each scene has its own softness of edges."""
    shadow = scene["shadow"].float()[:, None] / 255
    soft = torch.stack([_blurred(one, sigma) for one, sigma in zip(shadow, scene["penumbra"].tolist())])
    sun = 1 - F.interpolate(soft, size=size, mode="bilinear", align_corners=False)[:, 0]
    fine = per_scene(scene["dapple_fine"])  # share of the field that is small leaves; the rest are boughs
    boughs = (1 - fine ** 2).sqrt()
    spread = (boughs * looks.bank.flakes.spread_lost(looks.dapple_level, 0)
              + fine * looks.bank.flakes.spread_lost(looks.dapple_level, 1) + per_scene(scene["dapple_soft"]))
    leaves = normal_share((boughs * looks.dapple[:, 0] + fine * looks.dapple[:, 1]
                           + per_scene(scene["dapple_level"])) / spread)
    return sun * (1 - per_scene(scene["dapple"]) * leaves) * _lamp_share(scene, view)


def _lamp_share(scene, view):
    """Falls off from the spot below the lamp; 1 everywhere by day."""
    height, width = view.x.shape[1:]
    share = per_scene(scene["lamp_share"])
    place = scene["lamp_place"]
    row = (place[:, 1] * height).long().clamp(height // 3, height - 1)
    column = (place[:, 0] * width).long().clamp(0, width - 1)
    centre = view.ground[torch.arange(len(place), device=place.device), row, column]
    away = (view.ground - centre[:, None, None]).norm(dim=-1) / per_scene(scene["lamp_reach"])
    return 1 - share + share / (1 + away ** 2) ** 1.5


def with_things(radiance, scene, view, looks):
    """Draws the things over the ground; flat litter takes the ground's light, the rest its own."""
    thing = Table(THING, scene["thing_table"], scene["thing"])
    present = (scene["thing"] > 0).float()[:, None]
    thing.solid, thing.hides_paint, thing.lit = thing["not_ground"], thing["hides_paint"], thing["lit"]
    place = torch.stack([view.x, view.y], -1) * PICTURE_TILE
    leaf, _ = looks.bank.middle.look(place, torch.ones_like(view.x), scene["middle_tile"].clamp(max=900.0),
                                     scene["shifts"][:, 7], scene["angles"][:, 7])
    second = _second_share(scene, view, looks, thing, place)[:, None]
    own = thing.colour() + second * (torch.stack([thing["red2"], thing["green2"], thing["blue2"]], 1) - thing.colour())
    own = own * (thing["texture"] * 0.8 * leaf[:, 0] + thing["lean"] * view.y).clamp(max=1.2)[:, None].exp()
    bright = (scene["sun_light"] + scene["sky_light"])[:, :, None, None]
    shaded = radiance.mean(1, keepdim=True) / 0.25
    light = torch.where(thing.solid[:, None] > 0.5, bright, torch.minimum(shaded.clamp(min=0.1), bright))
    light = torch.where(thing.hides_paint[:, None] > 0.5, bright * 0.8, light)
    light = torch.where(thing.lit[:, None] > 0.5, light, torch.ones_like(light))
    return radiance + present * (own * light - radiance), thing


def _second_share(scene, view, looks, thing, place):
    """Share of each thing's second colour; the patterns lie in the picture, not on the ground."""
    size = thing["size"].clamp(min=0.02)
    place, per_pixel = place / size[..., None], 1 / size
    tile = torch.full_like(scene["middle_tile"], PICTURE_TILE / 3)

    def look(texture, slot):
        return texture.look(place, per_pixel, tile, scene["shifts"][:, slot], scene["angles"][:, slot])[0]
    cells, clouds, rough = look(looks.bank.cells, 5), look(looks.bank.flakes, 3), look(looks.bank.middle, 2)[:, 2]
    line = (place * (24 / PICTURE_TILE)).sin().prod(-1) * 2.5
    pattern = thing["pattern"].round()
    value = torch.stack([clouds[:, 0], cells[:, 0], cells[:, 2], rough, line], 1)
    value = value.gather(1, pattern.long()[:, None])[:, 0]
    return normal_share((value - thing["level"]) / thing["soft"].clamp(min=0.03))


# ---- labels ---------------------------------------------------------------------------------------------------------

def layer_labels(wear, thing):
    """Shares of the layers over 4 x 4 supersampled pixels; pavement is what remains."""
    seen = (1 - thing.solid) * (1 - thing.hides_paint)
    parts = {"not_ground": thing.solid, "top_coat": wear.top * seen, "older_coat": wear.older_seen * seen,
             "lost_abraded": wear.lost_abraded * seen, "lost_flaked": wear.lost_flaked * seen,
             "lost_cracked": wear.lost_cracked * seen}
    pooled = [F.avg_pool2d(parts[name][:, None], 4) for name in LAYERS[1:]]
    rest = 1 - sum(pooled)
    return torch.cat([rest.clamp(min=0)] + pooled, 1)


def kind_labels(wear, thing):
    """Shares of the kinds' footprints over 16 x 16 supersampled pixels, from every second pixel."""
    kind = wear.coat["kind"] * (1 - thing.solid) * (1 - thing.hides_paint)
    kind = kind[:, ::2, ::2].long()
    return torch.cat([F.avg_pool2d((kind == k).float()[:, None], 8) for k in range(len(KINDS))], 1)


# ---- lens and sensor ------------------------------------------------------------------------------------------------

def photographed(radiance, scene, thing):
    picture = F.avg_pool2d(radiance, 2)
    overlay = F.avg_pool2d(((1 - thing.lit) * thing.solid)[:, None], 2)
    picture = picture * scene["exposure"][:, None, None, None] * _falloff(scene, picture.shape[2:])
    picture = _levelled(picture, overlay)
    picture = torch.stack([_blurred(one, sigma) for one, sigma in zip(picture, scene["blur"].tolist())])
    picture = _shaken(picture, scene)
    picture = picture * scene["white_balance"][:, :, None, None]
    grey = sum(weight * picture[:, k] for k, weight in enumerate(LUMINANCE))[:, None]
    picture = grey + scene["saturation"][:, None, None, None] * (picture - grey)
    picture = _noisy(picture, scene)
    picture = _toned(picture, scene)
    soft = torch.stack([_blurred(one, 1.2) for one in picture])
    picture = (picture + scene["sharpen"][:, None, None, None] * (picture - soft)).clamp(0, 1)
    return _compressed(picture, scene["jpeg"])


def _levelled(picture, overlay):
    """Automatic exposure: the scene's mean comes to middle grey, then the scene's own error applies."""
    level = (picture * (1 - overlay)).clamp(max=3).mean((1, 2, 3), keepdim=True)
    return picture * (1 - overlay) * (0.2 / level.clamp(min=0.01)) ** 0.8 + picture * overlay


def _falloff(scene, size):
    device = scene["vignette"].device
    y = torch.linspace(-1, 1, size[0], device=device)[None, :, None]
    x = torch.linspace(-1, 1, size[1], device=device)[None, None]
    fall = 1 - per_scene(scene["vignette"]) * (x * x + y * y) / 2
    lean = (per_scene(scene["gradient"][:, 0]) * x + per_scene(scene["gradient"][:, 1]) * y).exp()
    return (fall * lean)[:, None]


def _kernel(sigma, device):
    reach = max(1, int(2.5 * sigma + 0.5))
    taps = torch.exp(-0.5 * (torch.arange(-reach, reach + 1, device=device) / max(sigma, 1e-3)) ** 2)
    return taps / taps.sum(), reach


def _blurred(image, sigma):
    """Gaussian blur of C x H x W."""
    if sigma < 0.12:
        return image
    taps, reach = _kernel(sigma, image.device)
    image = F.pad(image[:, None], (reach, reach, reach, reach), mode="replicate")
    image = F.conv2d(image, taps.view(1, 1, 1, -1))
    return F.conv2d(image, taps.view(1, 1, -1, 1))[:, 0]


def _shaken(picture, scene):
    """Motion blur of the scenes that have any: the mean of five shifted copies."""
    for n, length in enumerate(scene["motion"].tolist()):
        if length <= 0:
            continue
        angle = scene["motion_angle"][n]
        height, width = picture.shape[2:]
        total = 0
        for share in (-0.5, -0.25, 0.0, 0.25, 0.5):
            shift = torch.stack([angle.cos() * 2 / width, angle.sin() * 2 / height]) * length * share
            affine = torch.eye(2, 3, device=picture.device)
            affine[:, 2] = shift
            grid = F.affine_grid(affine[None], (1, 3, height, width), align_corners=False)
            total = total + F.grid_sample(picture[n:n + 1], grid, padding_mode="border", align_corners=False)[0] / 5
        picture[n] = total
    return picture


def _noisy(picture, scene):
    strength = scene["noise"][:, None, None, None]
    shared = torch.randn_like(picture[:, :1])
    own = torch.randn_like(picture)
    return picture + strength * (picture.clamp(min=0) * 0.6 + 0.02).sqrt() * (0.7 * shared + 0.6 * own)


def _toned(picture, scene):
    """sRGB encoding, clipping, then an S-curve and lifted blacks."""
    picture = picture.clamp(0, 1)
    encoded = torch.where(picture > 0.0031308, 1.055 * picture.clamp(min=0.0031308) ** (1 / 2.4) - 0.055, 12.92 * picture)
    contrast = scene["contrast"][:, None, None, None]
    encoded = encoded + contrast * encoded * (1 - encoded) * (2 * encoded - 1)
    lift = scene["lift"][:, None, None, None]
    return (lift + (1 - lift) * encoded).clamp(0, 1)


_QUALITY_50 = (16, 11, 10, 16, 24, 40, 51, 61, 12, 12, 14, 19, 26, 58, 60, 55, 14, 13, 16, 24, 40, 57, 69, 56, 14, 17, 22, 29,
               51, 87, 80, 62, 18, 22, 37, 56, 68, 109, 103, 77, 24, 35, 55, 64, 81, 104, 113, 92, 49, 64, 78, 87, 103, 121,
               120, 101, 72, 92, 95, 98, 112, 100, 103, 99)  # ITU-T T.81, table K.1


def _compressed(picture, quality):
    """JPEG's loss: quantised cosine transform of 8 x 8 blocks, chroma quantised twice as coarsely."""
    device = picture.device
    k = torch.arange(8, device=device, dtype=torch.float32)
    basis = torch.cos((2 * k[None] + 1) * k[:, None] * torch.pi / 16) * 0.5
    basis[0] *= 0.70710678
    scale = torch.where(quality < 50, 50 / quality, 2 - quality / 50)
    table = torch.tensor(_QUALITY_50, device=device, dtype=torch.float32).view(8, 8) / 255
    steps = (table[None, None] * scale[:, None, None, None]).clamp(min=1 / 255)
    steps = torch.cat([steps, 2 * steps, 2 * steps], 1)[:, :, None, None]
    to_ycc = torch.tensor([[0.299, 0.587, 0.114], [-0.1687, -0.3313, 0.5], [0.5, -0.4187, -0.0813]], device=device)
    ycc = torch.einsum("ij,njhw->nihw", to_ycc, picture)
    n, c, height, width = ycc.shape
    blocks = ycc.view(n, c, height // 8, 8, width // 8, 8).permute(0, 1, 2, 4, 3, 5)
    spectrum = basis @ blocks @ basis.T
    blocks = basis.T @ ((spectrum / steps).round() * steps) @ basis
    ycc = blocks.permute(0, 1, 2, 4, 3, 5).reshape(n, c, height, width)
    from_ycc = torch.linalg.inv(to_ycc)
    return (torch.einsum("ij,njhw->nihw", from_ycc, ycc).clamp(0, 1) * 255).round() / 255
