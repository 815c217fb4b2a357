// coat_examples OUT --tier TIER --count N --seed SEED [--megapixels M] [--layered SHARE]
// Renders scenes and writes one file a marking: coat_view's input and the true shares of top coat, of older coat and of
// what the top coat flaked off from, on the same grid. More markings than usual lie over an older coat, most of them over one of their own colour.
// File: int32 rows, cols; float32 mm a pixel, mm a photo pixel, blur (photo pixels), same colour (0, 1, or -1: none);
// float16 rows x cols x 4; uint8 rows x cols x 3 (250: all of it).

#include <CLI/CLI.hpp>
#include <array>
#include <cstdint>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <opencv2/imgproc.hpp>

#include "base/files.hpp"
#include "measure/coat_view.hpp"
#include "rendering/draw_parts.hpp"
#include "rendering/render.hpp"
#include "rendering/true_shares.hpp"

namespace {

using namespace lotwear;
using namespace lotwear::rendering;

struct Options {
  std::filesystem::path out, models = LOTWEAR_SOURCE_MODELS;
  std::string tier = "clear";
  int count = 10;
  std::uint64_t seed = 500'000;
  double megapixels = 12, layered = 0.6;
};

/// Laid over an older coat; as dull as any: some hardly differ from the top coat, some have lost half their light.
void lay_older(Random& random, Tier tier, MarkingPlan& marking) {
  age_marking(random, tier, Age::layered, marking);
  if (random.chance(0.75)) {
    CoatPlan older = draw_coat(random, marking.coat.colour);
    const float y = older.albedo.luminance(), level = static_cast<float>(random.between(0.5, 0.97));
    const Rgb grey{0.52F * y + 0.03F, 0.5F * y + 0.03F, 0.47F * y + 0.03F};
    older.albedo = mix(older.albedo * level, grey, static_cast<float>(random.between(0, 0.5)));
    marking.older = older;
  }
  if (random.chance(0.3)) marking.wear.faded = random.between(0.02, 0.35);
  if (random.chance(0.3)) marking.wear.patch_mm = random.between(200, 900);
}

/// Another photo of the scene's pixels: shares instead of light.
Photo as_photo(const cv::Mat& shares, const Photo& like) {
  Photo photo = like;
  photo.rgb = shares;
  for (std::size_t i = 0; i < 256; ++i)
    photo.space.linear[i] = static_cast<float>(i) / 250;
  photo.space.to_srgb = {1, 0, 0, 0, 1, 0, 0, 0, 1};
  return photo;
}

template <class T>
void put(std::string& bytes, const T* from, std::size_t count) {
  bytes.append(reinterpret_cast<const char*>(from), count * sizeof(T));
}

void write_example(const std::filesystem::path& file, const CoatView& view, const cv::Mat& truth, const PlanView& plan,
                   double blur, double same) {
  cv::Mat half, shares(truth.size(), CV_8UC3);
  view.input.convertTo(half, CV_16F);
  for (int r = 0; r < truth.rows; ++r) {
    for (int c = 0; c < truth.cols; ++c) {
      const cv::Vec3f t = truth.at<cv::Vec3f>(r, c);
      for (int k = 0; k < 3; ++k)
        shares.at<cv::Vec3b>(r, c)[k] = cv::saturate_cast<unsigned char>(250 * t[k]);
    }
  }
  std::string bytes;
  const std::array<std::int32_t, 2> size{truth.rows, truth.cols};
  const std::array<float, 4> numbers{static_cast<float>(view.mm_per_pixel), static_cast<float>(plan.photo_px_mm),
                                     static_cast<float>(blur), static_cast<float>(same)};
  put(bytes, size.data(), size.size());
  put(bytes, numbers.data(), numbers.size());
  put(bytes, half.ptr<unsigned char>(), half.total() * half.elemSize());
  put(bytes, shares.ptr<unsigned char>(), shares.total() * shares.elemSize());
  write_file(file, bytes);
}

int write_scene(const Options& options, std::uint64_t seed, const std::vector<Shape>& shapes) {
  const Tier tier = *from_word<Tier>(kTierWords, options.tier);
  ScenePlan plan = draw_scene(tier, seed, options.megapixels, shapes);
  Random random = Random(seed).part(77);
  for (MarkingPlan& marking : plan.markings) {
    if (!marking.is_field && random.chance(options.layered)) lay_older(random, tier, marking);
  }
  const Rendered made = render(plan);
  const std::filesystem::path jpeg = options.out / (plan.name + ".jpg");
  write_file(jpeg, made.photo);
  const Result<Photo> photo = read_photo(jpeg);
  std::filesystem::remove(jpeg);
  if (!photo) throw Failure(photo.problem().what);
  const Photo shares = as_photo(true_shares(plan), *photo);
  Ground ground;
  ground.ground_from_image = made.truth.ground_from_image;
  ground.image_from_ground = ground.ground_from_image.inverse();
  std::vector<Footprint> footprints;
  for (const MarkingTruth& marking : made.truth.markings) {
    Footprint footprint;
    for (const ImageRing& ring : marking.footprint)
      footprint.rings.push_back(ground.ground_from_image(ring));
    footprint.kind = marking.kind;
    footprint.edge_error = {3};
    footprints.push_back(footprint);
  }
  int written = 0;
  for (std::size_t i = 0; i < footprints.size(); ++i) {
    const MarkingTruth& marking = made.truth.markings[i];
    if (!marking.count || marking.share_in_frame < 0.5 || footprints[i].rings.empty()) continue;
    if (marking.kind == Kind::other) continue;  // fields: a symbol's rims look like a coat's
    const Result<PlanView> seen = look_down(*photo, {}, ground, footprints, i);
    const Result<PlanView> truth = look_down(shares, {}, ground, footprints, i);
    if (!seen || !truth || seen->light.size() != truth->light.size()) continue;
    const double core = 4 + (0.7 + std::clamp(photo->quality.blur_px, 0.6, 2.5)) * seen->photo_px_mm;
    const CoatView view = coat_view(*seen, core);
    if (view.input.empty()) continue;
    cv::Mat known;
    cv::resize(truth->light(view.at), known, view.input.size(), 0, 0, cv::INTER_AREA);
    const double same = marking.older_colour ? (*marking.older_colour == marking.colour ? 1 : 0) : -1;
    write_example(options.out / (plan.name + "_" + marking.id + ".bin"), view, known, *seen, photo->quality.blur_px, same);
    ++written;
  }
  return written;
}

}  // namespace

int main(int argc, char** argv) {
  Options options;
  CLI::App app("Markings of rendered scenes as the coat reader sees them, with what truly lies there");
  app.add_option("out", options.out, "folder for the files")->required();
  app.add_option("--tier", options.tier)->capture_default_str();
  app.add_option("--count", options.count)->capture_default_str();
  app.add_option("--seed", options.seed)->capture_default_str();
  app.add_option("--megapixels", options.megapixels)->capture_default_str();
  app.add_option("--models", options.models, "folder with shapes.json");
  app.add_option("--layered", options.layered, "share of the markings over an older coat")->capture_default_str();
  CLI11_PARSE(app, argc, argv);
  try {
    std::filesystem::create_directories(options.out);
    const std::vector<Shape> shapes = load_shapes(options.models);
    int written = 0;
    for (int i = 0; i < options.count; ++i)
      written += write_scene(options, options.seed + static_cast<std::uint64_t>(i), shapes);
    std::printf("%d markings of %d scenes\n", written, options.count);
  } catch (const std::exception& failure) {
    std::fprintf(stderr, "%s\n", failure.what());
    return 1;
  }
  return 0;
}
