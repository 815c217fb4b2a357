// render_scenes: draws scenes with known truth for tests, the score and the demo.

#include <fmt/format.h>
#include <malloc.h>

#include <CLI/CLI.hpp>
#include <filesystem>
#include <iostream>
#include <opencv2/core/utility.hpp>

#include "base/files.hpp"
#include "base/parallel.hpp"
#include "base/trouble.hpp"
#include "rendering/render.hpp"

namespace {

using namespace lotwear;
using namespace lotwear::rendering;

struct Options {
  std::string tier = "plain";
  int count = 10;
  std::uint64_t seed = 1;
  std::filesystem::path out;
  bool walk = false, again = false;
  unsigned threads = 2;
  double megapixels = 12;
  std::filesystem::path models = LOTWEAR_SOURCE_MODELS;
};

void write_scene(const ScenePlan& plan, const std::filesystem::path& folder) {
  const Rendered made = render(plan);
  write_file(folder / made.truth.photo, made.photo);
  write_file(folder / (plan.name + ".truth.json"), truth_text(made.truth));
}

int run(const Options& options) {
  const std::vector<Shape> shapes = load_shapes(options.models);
  std::vector<ScenePlan> plans;
  if (options.walk) {
    plans = draw_walk(options.seed, options.megapixels, shapes);
  } else {
    const auto tier = from_word<Tier>(kTierWords, options.tier);
    if (!tier) throw Failure("there is no tier '" + options.tier + "'; use clear, plain or hard");
    for (int i = 0; i < options.count; ++i) {
      plans.push_back(draw_scene(*tier, options.seed + static_cast<std::uint64_t>(i), options.megapixels, shapes));
      if (options.again) plans.push_back(draw_again(plans.back()));
    }
  }
  std::filesystem::create_directories(options.out);
  cv::setNumThreads(1);  // threads go over scenes
  // a scene's rasters are given back and taken again by the next: keeping the pages saves a third of the time
  mallopt(M_ARENA_MAX, 1);
  mallopt(M_MMAP_MAX, 0);
  mallopt(M_TRIM_THRESHOLD, 2000000000);
  parallel_for(plans.size(), options.threads, [&](std::size_t i) { write_scene(plans[i], options.out); });
  std::cerr << fmt::format("{} scenes in {}\n", plans.size(), options.out.string());
  return 0;
}

}  // namespace

int main(int argc, char** argv) {
  Options options;
  std::filesystem::path walk;
  CLI::App app{"Renders photos of invented parking lots with the truth about their markings"};
  app.add_option("--tier", options.tier, "clear, plain or hard")->capture_default_str();
  app.add_option("--count", options.count, "how many scenes")->check(CLI::Range(1, 100000))->capture_default_str();
  app.add_option("--seed", options.seed, "seed of the first scene; the next has the next number")
      ->capture_default_str();
  app.add_option("-o,--out", options.out, "folder for NAME.jpg and NAME.truth.json");
  app.add_flag("--again", options.again, "every scene a second time from a step aside, as NAME-again");
  app.add_option("--walk", walk, "instead: the photos of one lot walk, into this folder");
  app.add_option("--threads", options.threads, "scenes at a time")->check(CLI::Range(1U, 256U))->capture_default_str();
  app.add_option("--megapixels", options.megapixels, "size of the photos")
      ->check(CLI::Range(0.05, 48.0))
      ->capture_default_str();
  app.add_option("--models", options.models, "folder with shapes.json")->capture_default_str();
  CLI11_PARSE(app, argc, argv);
  try {
    if (!walk.empty()) {
      options.walk = true;
      options.out = walk;
    }
    if (options.out.empty()) throw Failure("no folder was named; add -o FOLDER or --walk FOLDER");
    return run(options);
  } catch (const std::exception& e) {
    std::cerr << "render_scenes: " << e.what() << "\n";
    return 1;
  }
}
