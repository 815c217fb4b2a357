// measuring real DATA [--out DIR]               hand-drawn footprints of real photos: inside the stated range or not
// measuring made COUNT TIER SEED [--out DIR] [--keep DIR]    small made-up scenes with known truth: error table
// measuring scenes FOLDER [EDGE_MM] [--out DIR]  rendered scenes with truth files
// measuring explain FOLDER [EDGE_MM] [--only NAME] [--keep DIR]  the same scenes drawn again as true shares: where the
// map departs
// --finder MODELS lets the learned finder see the photo first, --coats MODELS the coat reader the marking, as assess
// does. Prints one line a marking and the totals; --out writes plan view, share and cause pictures side by side.

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <optional>
#include <string>

#include "cases.hpp"
#include "measure/measure.hpp"
#include "support/paint_scene.hpp"

namespace {

using namespace lotwear;

cv::Mat picture_of(const LossMap& map) {
  cv::Mat plan, share, causes(map.what.size(), CV_8UC3), all;
  cv::cvtColor(map.plan, plan, cv::COLOR_RGB2BGR);
  map.fraction.convertTo(share, CV_8U, 255);
  cv::cvtColor(share, share, cv::COLOR_GRAY2BGR);
  const cv::Vec3b colours[] = {{60, 60, 60},  {255, 255, 255}, {0, 160, 230},   {200, 60, 140},
                               {80, 200, 80}, {0, 0, 200},     {180, 220, 220}, {0, 0, 0}};
  for (int r = 0; r < causes.rows; ++r)
    for (int c = 0; c < causes.cols; ++c)
      causes.at<cv::Vec3b>(r, c) = colours[map.what.at<unsigned char>(r, c)];
  const std::vector<cv::Mat> parts{plan, share, causes};
  if (plan.cols > plan.rows)
    cv::vconcat(parts, all);
  else
    cv::hconcat(parts, all);
  return all;
}

/// Rendering takes longer than measuring: kept scenes are read back, so that a change can be judged in seconds.
paint_scene::Scene kept_or_made(const paint_scene::Spec& spec, const std::string& keep, const std::string& name) {
  paint_scene::Scene scene;
  const std::string base = keep + "/" + name;
  cv::FileStorage in;
  if (!keep.empty() && in.open(base + ".yml", cv::FileStorage::READ)) {
    cv::cvtColor(cv::imread(base + ".png"), scene.photo.rgb, cv::COLOR_BGR2RGB);
    cv::Mat matrix, ring;
    in["map"] >> matrix, in["ring"] >> ring;
    std::array<double, 9> m{};
    std::copy(matrix.begin<double>(), matrix.end<double>(), m.begin());
    scene.ground.image_from_ground = ImageFromGround(m);
    scene.ground.ground_from_image = scene.ground.image_from_ground.inverse();
    scene.ground.scale_error = Fraction{0.01};
    scene.footprint.kind = spec.arrow ? Kind::arrow_straight : Kind::line;  // the coat reader is not asked of others
    scene.footprint.edge_error = {1.0};
    scene.footprint.rings.resize(1);
    for (int i = 0; i < ring.rows; ++i)
      scene.footprint.rings[0].push_back({ring.at<double>(i, 0), ring.at<double>(i, 1)});
    scene.footprint.width_mm = in["width"], scene.footprint.length_mm = in["length"];
    scene.remaining = in["remaining"], scene.any_coat = in["any"], scene.abraded = in["abraded"];
    scene.flaked = in["flaked"], scene.cracked = in["cracked"], scene.older = in["older"];
    scene.photo.quality.blur_px = spec.blur_px;
    for (int i = 0; i < 256; ++i) {
      const double e = i / 255.0;
      scene.photo.space.linear[static_cast<std::size_t>(i)] =
          static_cast<float>(e <= 0.04045 ? e / 12.92 : std::pow((e + 0.055) / 1.055, 2.4));
    }
    return scene;
  }
  scene = paint_scene::make(spec);
  if (keep.empty()) return scene;
  cv::Mat bgr, ring(static_cast<int>(scene.footprint.rings[0].size()), 2, CV_64F);
  cv::cvtColor(scene.photo.rgb, bgr, cv::COLOR_RGB2BGR);
  cv::imwrite(base + ".png", bgr);
  for (int i = 0; i < ring.rows; ++i) {
    ring.at<double>(i, 0) = scene.footprint.rings[0][static_cast<std::size_t>(i)].x;
    ring.at<double>(i, 1) = scene.footprint.rings[0][static_cast<std::size_t>(i)].y;
  }
  std::array<double, 9> m = scene.ground.image_from_ground.matrix();
  cv::FileStorage out(base + ".yml", cv::FileStorage::WRITE);
  out << "map" << cv::Mat(3, 3, CV_64F, m.data()) << "ring" << ring << "width" << scene.footprint.width_mm << "length"
      << scene.footprint.length_mm << "remaining" << scene.remaining << "any" << scene.any_coat << "abraded"
      << scene.abraded << "flaked" << scene.flaked << "cracked" << scene.cracked << "older" << scene.older;
  return scene;
}

struct Totals {
  std::vector<double> errors, flake_errors, abraded_errors, faded_errors;
  int faded_inside = 0, flaked_inside = 0, flaked = 0, false_grinds = 0, missed_grinds = 0;
  double inside = 0, width = 0, in_range = 0, seconds = 0;
  int failed = 0;
};

void run(const Case& one, const PaintMap& paint, const CoatReader* coats, Totals& totals, const std::string& out) {
  const auto start = std::chrono::steady_clock::now();
  const Result<Measurement> found = measure(one.photo, paint, one.ground, one.footprints, one.which, coats);
  totals.seconds += std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
  if (!found) {
    ++totals.failed;
    std::printf("%-60s FAILED %s\n", one.name.c_str(), found.problem().what.c_str());
    return;
  }
  const Condition& c = found->condition;
  const double error = c.remaining.value.value - one.value;
  totals.errors.push_back(std::abs(error));
  totals.inside += one.value >= c.remaining.low.value && one.value <= c.remaining.high.value;
  totals.width += c.remaining.high.value - c.remaining.low.value;
  totals.in_range += c.remaining.value.value >= one.low && c.remaining.value.value <= one.high;
  if (one.faded) {
    totals.faded_errors.push_back(std::abs(c.faded.value.value - *one.faded));
    totals.faded_inside += *one.faded >= c.faded.low.value && *one.faded <= c.faded.high.value;
  }
  if (one.flaked) {
    // The default action policy's limits.
    const bool is = *one.flaked >= 0.1 || one.older.value_or(0) >= 0.05;
    const bool said = c.loss.flaked.value >= 0.1 || c.older_coat.value.value >= 0.05;
    totals.flaked += is, totals.false_grinds += said && !is, totals.missed_grinds += is && !said;
    totals.flaked_inside += *one.flaked >= c.flaked.low.value && *one.flaked <= c.flaked.high.value;
  }
  if (one.flaked) totals.flake_errors.push_back(std::abs(c.loss.flaked.value - *one.flaked));
  if (one.abraded) totals.abraded_errors.push_back(std::abs(c.loss.abraded.value - *one.abraded));
  std::printf("%-60s %5.1f true %5.1f err %+5.1f [%5.1f %5.1f] %s ab %4.1f fl %4.1f cr %4.1f old %4.1f",
              one.name.c_str(), 100 * c.remaining.value.value, 100 * one.value, 100 * error,
              100 * c.remaining.low.value, 100 * c.remaining.high.value,
              one.value < c.remaining.low.value || one.value > c.remaining.high.value ? "OUT" : "   ",
              100 * c.loss.abraded.value, 100 * c.loss.flaked.value, 100 * c.loss.cracked.value,
              100 * c.older_coat.value.value);
  if (one.flaked)
    std::printf(" / ab %4.1f fl %4.1f cr %4.1f old %4.1f", 100 * *one.abraded, 100 * *one.flaked, 100 * *one.cracked,
                100 * one.older.value_or(0));
  if (one.faded) std::printf(" | faded %.0f soil %.0f", 100 * *one.faded, 100 * one.soiled.value_or(0));
  std::printf(" %s %s k%.2f faded %.0f soil %.0f mm %.2f\n", std::string(word(c.colour)).c_str(),
              std::string(word(c.surface)).c_str(), c.appearance.contrast.value_or(0), 100 * c.appearance.faded.value,
              100 * c.appearance.soiled.value, found->map.mm_per_pixel);
  if (!out.empty()) {
    std::string name = one.name;
    std::replace(name.begin(), name.end(), '/', '_');
    std::replace(name.begin(), name.end(), ' ', '_');
    cv::imwrite(out + "/" + name + ".png", picture_of(found->map));
  }
}

void print(const Totals& totals) {
  std::vector<double> e = totals.errors;
  if (e.empty()) return;
  std::sort(e.begin(), e.end());
  double sum = 0;
  for (const double v : e)
    sum += v;
  const double n = static_cast<double>(e.size());
  const auto mean = [](const std::vector<double>& v) {
    double s = 0;
    for (const double x : v)
      s += x;
    return v.empty() ? 0.0 : s / static_cast<double>(v.size());
  };
  std::printf(
      "n %zu failed %d | mean error %.2f p90 %.2f worst %.2f | in interval %.1f %% width %.1f | in range %.1f %% | "
      "flaked error %.2f abraded error %.2f | %.0f ms each\n",
      e.size(), totals.failed, 100 * sum / n, 100 * e[static_cast<std::size_t>(0.9 * (n - 1))], 100 * e.back(),
      100 * totals.inside / n, 100 * totals.width / n, 100 * totals.in_range / n, 100 * mean(totals.flake_errors),
      100 * mean(totals.abraded_errors), 1000 * totals.seconds / n);
  if (totals.flake_errors.empty()) return;
  std::printf(
      "flaked in interval %.1f %% | to grind %d of %zu: missed %d, false %d | faded error %.2f in interval %.1f %%\n",
      100 * totals.flaked_inside / n, totals.flaked, e.size(), totals.missed_grinds, totals.false_grinds,
      100 * mean(totals.faded_errors), 100 * totals.faded_inside / n);
}

}  // namespace

int main(int argc, char** argv) {
  std::vector<std::string> words(argv + 1, argv + argc);
  std::string out, keep, models, only;
  std::optional<lotwear::CoatReader> reader;
  for (std::size_t i = 0; i + 1 < words.size(); ++i) {
    if (words[i] == "--out") out = words[i + 1];
    if (words[i] == "--keep") keep = words[i + 1];
    if (words[i] == "--finder") models = words[i + 1];
    if (words[i] == "--coats") reader.emplace(words[i + 1]);
    if (words[i] == "--only") only = words[i + 1];
  }
  std::optional<lotwear::Finder> finder;
  if (!models.empty()) finder.emplace(models);
  Totals totals;
  if (words.size() >= 2 && words[0] == "real") {
    for (const lotwear::Case& one : lotwear::real_cases(words[1])) {
      run(one, finder ? finder->look(one.photo) : lotwear::PaintMap{}, reader ? &*reader : nullptr, totals, out);
    }
  } else if (words.size() >= 4 && words[0] == "made") {
    const int count = std::atoi(words[1].c_str()), tier = std::atoi(words[2].c_str());
    const auto seed = static_cast<std::uint64_t>(std::atoll(words[3].c_str()));
    for (int i = 0; i < count; ++i) {
      const auto spec = lotwear::paint_scene::random_spec(seed + static_cast<std::uint64_t>(i), tier);
      const auto scene = kept_or_made(spec, keep, std::to_string(tier) + "-" + std::to_string(spec.seed));
      lotwear::Case one;
      one.name = "made-" + std::to_string(tier) + "-" + std::to_string(spec.seed) +
                 (spec.light == lotwear::paint_scene::Light::dapple ? " dapple"
                  : spec.light == lotwear::paint_scene::Light::edge ? " edge"
                                                                    : "") +
                 (spec.soil > 0.1 ? " soil" : "") + (spec.tyre > 0 ? " tyre" : "");
      one.photo = scene.photo, one.ground = scene.ground;
      // Fitted outlines are off by a millimetre or two.
      const double off = 1.5 * std::sin(static_cast<double>(spec.seed) * 12.9898);
      one.footprints = {lotwear::paint_scene::grown(scene.footprint, off)};
      one.footprints[0].edge_error = {1.5};
      one.value = one.low = one.high = scene.remaining;
      one.abraded = scene.abraded, one.flaked = scene.flaked, one.cracked = scene.cracked, one.older = scene.older;
      run(one, finder ? finder->look(one.photo) : lotwear::PaintMap{}, reader ? &*reader : nullptr, totals, out);
    }
  } else if (words.size() >= 2 && words[0] == "scenes") {
    const double edge = words.size() >= 3 && words[2][0] != '-' ? std::atof(words[2].c_str()) : 1.5;
    for (const auto& file : lotwear::scene_files(words[1])) {
      const std::vector<lotwear::Case> cases = lotwear::scene_cases(file, edge);
      if (cases.empty()) continue;
      const lotwear::PaintMap paint = finder ? finder->look(cases.front().photo) : lotwear::PaintMap{};
      for (const lotwear::Case& one : cases)
        run(one, paint, reader ? &*reader : nullptr, totals, out);
    }
  } else if (words.size() >= 2 && words[0] == "explain") {
    const double edge = words.size() >= 3 && words[2][0] != '-' ? std::atof(words[2].c_str()) : 0.5;
    for (const auto& file : lotwear::scene_files(words[1]))
      lotwear::explain(file, edge, only, keep);
    return 0;
  } else {
    std::fprintf(
        stderr, "measuring scenes FOLDER [EDGE_MM] | real DATA | made COUNT TIER SEED | explain FOLDER  [--out DIR]\n");
    return 2;
  }
  print(totals);
  return 0;
}
