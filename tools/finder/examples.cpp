// finder_examples OUT --tier TIER --count N --seed SEED [--megapixels M] [--wide SHARE] [--models DIR]
// The finder's second world: renders scenes and writes one file a scene: the picture as the program shows it to the
// finder, and the true shares of its layers and kinds on the finder's own grids.
// File: "LWF1"; int32 width, height, bytes of the three pictures that follow, all of one channel, planes below each
// other:
//   JPEG  R, G, B, each height x width
//   PNG   not_ground, top_coat, older_coat, lost_abraded, lost_flaked, lost_cracked, each height/2 x width/2; 255: all
//   of it PNG   kinds 1 to 9 of network.py, each height/8 x width/8
// Pavement and the kind `none` are what is left.

#include <malloc.h>

#include <array>
#include <CLI/CLI.hpp>
#include <cmath>
#include <cstdint>
#include <cstdio>
#include <filesystem>
#include <opencv2/core/utility.hpp>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

#include "base/files.hpp"
#include "base/trouble.hpp"
#include "rendering/draw_parts.hpp"
#include "rendering/render.hpp"
#include "rendering/rubble.hpp"
#include "rendering/solids.hpp"

namespace {

using namespace lotwear;
using namespace lotwear::rendering;

struct Options {
  std::filesystem::path out, models = LOTWEAR_SOURCE_MODELS;
  std::string tier = "plain";
  int count = 10;
  std::uint64_t seed = 5'000'000;
  double megapixels = 2.5, wide = 0.4;
};

constexpr double kLongSide = 1024, kPhoneMegapixels = 12;
constexpr double kThingsAlone = 0.2;  // of the wide ones
constexpr double kBoardHeldUp = 0.3;  // of these
constexpr double kBroken = 0.45;      // of all
constexpr int kLayerStride = 2, kKindStride = 8, kKinds = 10;

/// Of network.py; 0: none.
int finder_kind(int marking) {
  if (marking == 0) return 0;
  const Kind kind = static_cast<Kind>(marking - 1);
  if (is_arrow(kind)) return 4;
  switch (kind) {
    case Kind::line:
      return 1;
    case Kind::stop_line:
      return 2;
    case Kind::crosswalk:
      return 3;
    case Kind::accessible_symbol:
      return 5;
    case Kind::hatching:
      return 6;
    case Kind::legend:
      return 7;
    case Kind::yield_line:
      return 8;
    case Kind::curb:
      return 9;
    default:
      return 0;
  }
}

GroundPoint place_in(Random& random, const std::vector<GroundRing>& rings) {
  const std::vector<GroundPoint> inside = points_inside(rings, 200);
  return inside.empty() ? middle_of(rings) : random.pick(inside);
}

/// A bar of shade, `width_mm` wide and as long as the lot; beginning at `at` when it is very wide.
Caster bar_of_shade(Random& random, GroundPoint at, double turn, double width_mm) {
  const GroundRing bar = {{-20000, 0}, {20000, 0}, {20000, width_mm}, {-20000, width_mm}};
  return {placed({bar}, turn, at), std::exp(random.between(std::log(4.0), std::log(60.0))), random.between(0.85, 0.98)};
}

/// The edge of a building's shadow, of a few posts or rails, or leaves, so that it falls on part of the marking.
void shade_in_part(Random& random, const MarkingPlan& marking, LightPlan& light) {
  light.sun = 1;
  light.sky = random.between(0.15, 0.5);
  const GroundPoint at = place_in(random, marking.rings);
  const double turn = random.between(0, 2 * std::numbers::pi);
  switch (random.weighted({0.4, 0.2, 0.4})) {
    case 0:
      light.casters.push_back(bar_of_shade(random, at, turn, 20000));
      break;
    case 1: {
      const double width = random.between(40, 500), apart = width * random.between(1.5, 4);
      const int bars = random.whole(1, 6);
      for (int i = 0; i < bars; ++i) {
        const GroundPoint step{-std::sin(turn) * apart * i, std::cos(turn) * apart * i};
        light.casters.push_back(bar_of_shade(random, at + step, turn, width));
      }
      break;
    }
    default:
      light.foliage = random.between(0.25, 0.8);
      light.foliage_leaf_mm = random.between(25, 130);
      light.foliage_penumbra_mm = random.between(15, 90);
      light.foliage_at = at;
      light.foliage_reach_mm = random.chance(0.6) ? random.between(700, 2600) : 0;
  }
}

/// Eighty to a hundred percent left.
void freshen(Random& random, MarkingPlan& marking) {
  marking.wear.abraded = random.chance(0.5) ? random.between(0, 0.03) : random.between(0.02, 0.15);
  marking.wear.flaked = random.chance(0.75) ? 0 : random.between(0, 0.05);
  marking.wear.cracked = random.chance(0.9) ? 0 : random.between(0, 0.03);
  marking.wear.faded = random.chance(0.7) ? 0 : random.between(0, 0.25);
}

/// What the finder has taken for boards and plates so far: wide fresh markings, most of them in shade in part, beside
/// slabs and wheel stops of the same colours; now and then these alone.
ScenePlan draw_wide(const Options& options, Tier tier, std::uint64_t seed, Random& random,
                    const std::vector<Shape>& shapes) {
  const std::vector<GroupKind> groups = {GroupKind::crosswalk,   GroupKind::stop,  GroupKind::yield,
                                         GroupKind::arrow,       GroupKind::aisle, GroupKind::two_arrows,
                                         GroupKind::stall_lines, GroupKind::curb};
  Request request;
  request.wanted.group = groups[random.weighted({0.2, 0.28, 0.1, 0.1, 0.06, 0.06, 0.1, 0.1})];
  request.age = Age::fresh;
  ScenePlan plan = draw_requested(tier, seed, options.megapixels, shapes, request);
  for (MarkingPlan& marking : plan.markings) {
    if (random.chance(0.8)) freshen(random, marking);
  }
  if (!plan.markings.empty() && random.chance(0.6)) shade_in_part(random, plan.markings[0], plan.light);
  if (random.chance(kThingsAlone)) {
    plan.markings.clear();
    plan.sheet.reset();
    draw_rubble(random, plan);
    if (random.chance(kBoardHeldUp)) {
      if (random.chance(0.6)) plan.camera.tilt_deg = random.between(65, 84);
      plan.backdrop_deg = random.between(10, 60);
      hold_up_board(random, plan);
    }
  }
  if (plan.markings.empty() || random.chance(0.6)) draw_look_alikes(random, plan);
  return plan;
}

/// A photo of twelve megapixels has less noise and no traces of JPEG once it has been shrunk; one sent on by a
/// messenger has.
void as_if_larger(Random& random, double megapixels, CameraPlan& camera) {
  const double small = std::min(1.0, std::sqrt(megapixels / kPhoneMegapixels));
  const double share = random.share(), noise = std::pow(small, share);
  camera.shot_noise *= noise;
  camera.read_noise *= noise;
  camera.sharpening *= 1 - 0.7 * share;
  camera.jpeg_quality += static_cast<int>(share * (97 - camera.jpeg_quality));
}

cv::Mat shrunk(const cv::Mat& from, cv::Size to) {
  cv::Mat small;
  cv::resize(from, small, to, 0, 0, to.width <= from.cols ? cv::INTER_AREA : cv::INTER_LINEAR);
  return small;
}

/// The channels below each other.
cv::Mat stacked(const std::vector<cv::Mat>& channels) {
  cv::Mat all;
  cv::vconcat(channels, all);
  return all;
}

std::vector<cv::Mat> bytes_of(const cv::Mat& shares) {
  cv::Mat bytes;
  shares.convertTo(bytes, CV_8U, 255);
  std::vector<cv::Mat> channels;
  cv::split(bytes, channels);
  return channels;
}

cv::Mat layer_planes(const TrueLayers& truth, cv::Size picture) {
  const cv::Size size = picture / kLayerStride;
  const std::vector<cv::Mat> coats = bytes_of(shrunk(truth.coats, size)), losses = bytes_of(shrunk(truth.losses, size));
  return stacked({losses[2], coats[0], coats[1], losses[0], coats[2], losses[1]});
}

cv::Mat kind_planes(const TrueLayers& truth, cv::Size picture) {
  const cv::Size size = picture / kKindStride;
  cv::Mat kinds(truth.kinds.size(), CV_8U);
  for (int r = 0; r < kinds.rows; ++r) {
    for (int c = 0; c < kinds.cols; ++c)
      kinds.at<uchar>(r, c) = static_cast<uchar>(finder_kind(truth.kinds.at<uchar>(r, c)));
  }
  std::vector<cv::Mat> planes;
  for (int kind = 1; kind < kKinds; ++kind)
    planes.push_back(shrunk(kinds == kind, size));
  return stacked(planes);
}

std::string example(const Rendered& made) {
  const std::vector<std::uint8_t> jpeg(made.photo.begin(), made.photo.end());
  const cv::Mat photo = cv::imdecode(jpeg, cv::IMREAD_COLOR);
  const double scale = kLongSide / std::max(photo.cols, photo.rows);
  const cv::Size size(static_cast<int>(std::lround(photo.cols * scale)),
                      static_cast<int>(std::lround(photo.rows * scale)));
  require(photo.size() == made.layers->kinds.size() && size.width % 64 == 0 && size.height % 64 == 0,
          "photo and labels are upright, four to three");
  cv::Mat rgb;
  cv::cvtColor(shrunk(photo, size), rgb, cv::COLOR_BGR2RGB);
  std::vector<cv::Mat> planes;
  cv::split(rgb, planes);
  std::array<std::vector<std::uint8_t>, 3> parts;
  const bool written =
      cv::imencode(".jpg", stacked(planes), parts[0], {cv::IMWRITE_JPEG_QUALITY, 95}) &&
      cv::imencode(".png", layer_planes(*made.layers, size), parts[1], {cv::IMWRITE_PNG_COMPRESSION, 3}) &&
      cv::imencode(".png", kind_planes(*made.layers, size), parts[2], {cv::IMWRITE_PNG_COMPRESSION, 3});
  require(written, "pictures can be encoded");
  const auto bytes = [](const std::vector<std::uint8_t>& part) { return static_cast<std::int32_t>(part.size()); };
  const std::array<std::int32_t, 5> head{size.width, size.height, bytes(parts[0]), bytes(parts[1]), bytes(parts[2])};
  std::string file = "LWF1";
  file.append(reinterpret_cast<const char*>(head.data()), sizeof head);
  for (const std::vector<std::uint8_t>& part : parts)
    file.append(part.begin(), part.end());
  return file;
}

void write_scene(const Options& options, Tier tier, std::uint64_t seed, const std::vector<Shape>& shapes) {
  Random random = Random(seed).part(78);
  const bool wide = random.chance(options.wide);
  ScenePlan plan =
      wide ? draw_wide(options, tier, seed, random, shapes) : draw_scene(tier, seed, options.megapixels, shapes);
  if (random.chance(kBroken)) draw_rubble(random, plan);
  as_if_larger(random, options.megapixels, plan.camera);
  const std::string bytes = example(render(plan, Layers::drawn));
  const std::filesystem::path file = options.out / (plan.name + ".lwf"), half_written = file.string() + ".part";
  write_file(half_written, bytes);
  std::filesystem::rename(half_written, file);
}

}  // namespace

int main(int argc, char** argv) {
  Options options;
  CLI::App app("Rendered scenes as the finder sees them, with what truly lies there");
  app.add_option("out", options.out, "folder for the files")->required();
  app.add_option("--tier", options.tier, "clear, plain or hard")->capture_default_str();
  app.add_option("--count", options.count)->capture_default_str();
  app.add_option("--seed", options.seed, "of the first scene; the next has the next number")->capture_default_str();
  app.add_option("--megapixels", options.megapixels)->check(CLI::Range(0.8, 48.0))->capture_default_str();
  app.add_option("--wide", options.wide, "share of scenes with wide fresh markings in part in shade")
      ->capture_default_str();
  app.add_option("--models", options.models, "folder with shapes.json")->capture_default_str();
  CLI11_PARSE(app, argc, argv);
  try {
    const auto tier = from_word<Tier>(kTierWords, options.tier);
    if (!tier) throw Failure("there is no tier '" + options.tier + "'; use clear, plain or hard");
    std::filesystem::create_directories(options.out);
    cv::setNumThreads(1);
    // a scene's rasters are given back and taken again by the next: keeping the pages saves a third of the time
    mallopt(M_MMAP_MAX, 0);
    mallopt(M_TRIM_THRESHOLD, 2000000000);
    const std::vector<Shape> shapes = load_shapes(options.models);
    for (int i = 0; i < options.count; ++i)
      write_scene(options, *tier, options.seed + static_cast<std::uint64_t>(i), shapes);
  } catch (const std::exception& failure) {
    std::fprintf(stderr, "finder_examples: %s\n", failure.what());
    return 1;
  }
  return 0;
}
