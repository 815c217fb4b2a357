// The whole of `lotwear assess` for one photo against what decoding its JPEG costs at least, and where the time goes; and
// `lotwear report` for 60 markings against assessing one photo.
// Processor time of one thread on rendered 12-megapixel scenes of every tier. Prints the figure; with --most TIMES it
// exits 1 when the mean over the scenes is more, so that a lost order of magnitude shows.

#include <benchmark/benchmark.h>
#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <CLI/CLI.hpp>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <map>
#include <numeric>
#include <opencv2/core/utility.hpp>
#include <sstream>

#include "app/assess.hpp"
#include "app/keep_pages.hpp"
#include "app/report.hpp"
#include "base/files.hpp"
#include "capture/photo.hpp"
#include "detect/detect.hpp"
#include "ground/ground.hpp"
#include "marking/marking.hpp"
#include "measure/measure.hpp"
#include "rendering/render.hpp"
#include "support/figure.hpp"
#include "support/plain_decode.hpp"
#include "survey/survey.hpp"
#include "views/evidence.hpp"

namespace {

using namespace lotwear;
namespace fs = std::filesystem;

struct Options {
  int scenes = 1;  ///< a tier
  std::uint64_t seed = 91'000;
  double most = 0;  ///< times; 0: no bound
  fs::path folder;
};

/// One photo, read over and over.
struct Scene {
  std::string name;
  fs::path file;
  std::string bytes;
};

std::vector<Scene> render_scenes(const Options& options) {
  std::vector<Scene> scenes;
  const std::vector<Shape> shapes = load_shapes(LOTWEAR_MODELS);
  for (const auto tier : {rendering::Tier::clear, rendering::Tier::plain, rendering::Tier::hard}) {
    for (int i = 0; i < options.scenes; ++i) {
      const std::string name = fmt::format("{}-{}", rendering::kTierWords[static_cast<std::size_t>(tier)], i + 1);
      const rendering::ScenePlan plan =
          rendering::draw_scene(tier, options.seed + static_cast<std::uint64_t>(i), 12, shapes);
      scenes.push_back({name, options.folder / (name + ".jpg"), rendering::render(plan).photo});
      write_file(scenes.back().file, scenes.back().bytes);
    }
  }
  return scenes;
}

void decode(benchmark::State& state, const Scene& scene) {
  for ([[maybe_unused]] auto _ : state) {
    cv::Mat rgb;
    test::plain_decode({reinterpret_cast<const unsigned char*>(scene.bytes.data()), scene.bytes.size()}, rgb);
    benchmark::DoNotOptimize(rgb.data);
  }
}

void whole(benchmark::State& state, const Scene& scene, const fs::path& folder) {
  AssessOptions options;
  options.photos = {scene.file};
  options.survey = folder / ("survey-" + scene.name);
  options.threads = 1;
  options.quiet = true;
  for ([[maybe_unused]] auto _ : state) {
    std::ostringstream lines;
    assess(options, lines);
  }
}

constexpr std::size_t kReported = 60;

/// A survey of 60 markings, the scenes' own over and over, each with pictures of its own as a long walk has them.
fs::path long_survey(const std::vector<Scene>& scenes, const fs::path& folder) {
  const fs::path all = folder / "survey-long";
  fs::create_directories(all / "evidence");
  Survey survey;
  std::vector<std::pair<fs::path, SurveyMarking>> seen;
  for (const Scene& scene : scenes) {
    const fs::path from = folder / ("survey-" + scene.name);
    Survey one = load_survey(from);
    for (SurveyMarking& marking : one.markings)
      seen.emplace_back(from, std::move(marking));
    one.markings.clear();
    if (survey.photos.empty()) survey = std::move(one);
    else survey.photos.insert(survey.photos.end(), one.photos.begin(), one.photos.end());
  }
  for (std::size_t i = 0; i < kReported; ++i) {
    auto [from, marking] = seen[i % seen.size()];
    marking.id = fmt::format("M{:03}", i + 1);
    for (std::string* picture : {&marking.evidence_photo, &marking.evidence_plan, &marking.evidence_loss}) {
      if (picture->empty()) continue;
      const std::string name = fmt::format("evidence/{}-{}", i, fs::path(*picture).filename().string());
      fs::copy_file(from / *picture, all / name, fs::copy_options::overwrite_existing);
      *picture = name;
    }
    survey.markings.push_back(std::move(marking));
  }
  save_survey(survey, all);
  return all;
}

void report_long(benchmark::State& state, const std::vector<Scene>& scenes, const fs::path& folder) {
  ReportOptions options;
  options.survey = long_survey(scenes, folder);
  options.date = "2026-04-12";
  for ([[maybe_unused]] auto _ : state)
    report(options);
}

/// What the stages hand on, so that each can be timed by itself.
struct Stages {
  Photo photo;
  PaintMap paint;
  Ground ground;
  Markings seen;
  std::vector<Measurement> measured;
};

Stages run_stages(const Scene& scene, Finder& finder, const std::vector<Shape>& shapes) {
  Stages at;
  at.photo = *read_photo(scene.file);
  at.paint = finder.look(at.photo);
  at.ground = *find_ground(at.photo, at.paint);
  at.seen = find_markings(at.photo, at.paint, at.ground, shapes);
  for (std::size_t i = 0; i < at.seen.footprints.size(); ++i) {
    if (const auto measured = measure(at.photo, at.paint, at.seen.ground, at.seen.footprints, i))
      at.measured.push_back(*measured);
  }
  return at;
}

constexpr std::array<const char*, 6> kStages = {"read", "finder", "ground", "marking", "measure", "evidence"};

void run_stage(std::size_t stage, const Scene& scene, const Stages& at, Finder& finder,
               const std::vector<Shape>& shapes, const fs::path& folder) {
  switch (stage) {
    case 0:
      benchmark::DoNotOptimize(read_photo(scene.file));
      break;
    case 1:
      benchmark::DoNotOptimize(finder.look(at.photo));
      break;
    case 2:
      benchmark::DoNotOptimize(find_ground(at.photo, at.paint));
      break;
    case 3:
      benchmark::DoNotOptimize(find_markings(at.photo, at.paint, at.ground, shapes));
      break;
    case 4:
      for (std::size_t i = 0; i < at.seen.footprints.size(); ++i)
        benchmark::DoNotOptimize(measure(at.photo, at.paint, at.seen.ground, at.seen.footprints, i));
      break;
    default:
      for (const Measurement& measured : at.measured)
        write_evidence(at.photo, in_photo(at.seen.ground, at.seen.footprints.front().rings), measured.map, "P", folder,
                       PlanScale::nominal);
  }
}

/// Shows every run as Google Benchmark does, and keeps the least processor time of each name, milliseconds.
class LeastTimes : public benchmark::ConsoleReporter {
 public:
  LeastTimes() : ConsoleReporter(OO_None) {}
  void ReportRuns(const std::vector<Run>& runs) override {
    for (const Run& run : runs) {
      if (run.run_type != Run::RT_Iteration) continue;
      const auto at = least_.emplace(run.run_name.function_name, 1e12).first;
      at->second = std::min(at->second, run.GetAdjustedCPUTime());
    }
  }
  double of(const std::string& name) const { return least_.at(name); }

 private:
  std::map<std::string, double> least_;
};

void add(const std::string& name, int iterations, int repetitions, std::function<void(benchmark::State&)> run) {
  benchmark::RegisterBenchmark(name.c_str(), std::move(run))
      ->Unit(benchmark::kMillisecond)
      ->MeasureProcessCPUTime()
      ->Iterations(iterations)
      ->Repetitions(repetitions);
}

std::string table(const std::vector<Scene>& scenes, const LeastTimes& times, double& mean) {
  std::string text = fmt::format("{:10} {:>5} {:>8} {:>8} {:>7}  ", "12 MP", "MB", "decode", "assess", "times");
  for (const char* stage : kStages)
    text += fmt::format(" {:>8}", stage);
  text += "   (ms of processor time, one thread)\n";
  mean = 0;
  for (const Scene& scene : scenes) {
    const double least = times.of("decode/" + scene.name), all = times.of("assess/" + scene.name);
    mean += all / least / static_cast<double>(scenes.size());
    text += fmt::format("{:10} {:5.1f} {:8.0f} {:8.0f} {:7.1f}  ", scene.name,
                        static_cast<double>(scene.bytes.size()) / 1e6, least, all, all / least);
    for (const char* stage : kStages)
      text += fmt::format(" {:8.0f}", times.of(fmt::format("{}/{}", stage, scene.name)));
    text += "\n";
  }
  return text +
         fmt::format("whole assess of a 12 MP JPEG: {:.1f} times decoding it with libjpeg-turbo (mean of {} scenes)\n",
                     mean, scenes.size());
}

int run(const Options& options) {
  keep_pages();
  cv::setNumThreads(1);
  const std::vector<Scene> scenes = render_scenes(options);
  const std::vector<Shape> shapes = shapes_and_words(LOTWEAR_MODELS);
  Finder finder(LOTWEAR_MODELS);
  std::vector<Stages> stages;
  for (const Scene& scene : scenes)
    stages.push_back(run_stages(scene, finder, shapes));
  for (std::size_t i = 0; i < scenes.size(); ++i) {
    const Scene& scene = scenes[i];
    add("decode/" + scene.name, 4, 4, [&scene](benchmark::State& state) { decode(state, scene); });
    add("assess/" + scene.name, 1, 2, [&](benchmark::State& state) { whole(state, scene, options.folder); });
    for (std::size_t s = 0; s < kStages.size(); ++s) {
      add(fmt::format("{}/{}", kStages[s], scene.name), 1, 1, [&, s, i](benchmark::State& state) {
        for ([[maybe_unused]] auto _ : state)
          run_stage(s, scene, stages[i], finder, shapes, options.folder);
      });
    }
  }
  // after the assess runs, whose surveys it reports on
  add("report", 1, 1, [&](benchmark::State& state) { report_long(state, scenes, options.folder); });
  LeastTimes times;
  benchmark::RunSpecifiedBenchmarks(&times);
  double mean = 0;
  std::string text = table(scenes, times, mean);
  double assessed = 0;
  for (const Scene& scene : scenes)
    assessed += times.of("assess/" + scene.name) / static_cast<double>(scenes.size());
  text += fmt::format("report of {} markings, HTML and PDF: {:.1f} times assessing one 12 MP photo\n", kReported,
                      times.of("report") / assessed);
  test::show_figure("assess", text);
  if (options.most > 0 && mean > options.most) {
    std::cerr << fmt::format("assess has become slow: {:.1f} times decoding, the bound is {:.1f}\n", mean,
                             options.most);
    return 1;
  }
  return 0;
}

}  // namespace

int main(int argc, char** argv) {
  Options options;
  options.folder = fs::temp_directory_path() / fmt::format("lotwear-assess-bench-{}", ::getpid());
  CLI::App app{"Time of a whole assess as a multiple of decoding the photo, and of every stage."};
  app.add_option("--scenes", options.scenes, "rendered scenes a tier")
      ->check(CLI::Range(1, 100))
      ->capture_default_str();
  app.add_option("--seed", options.seed, "seed of the first scene")->capture_default_str();
  app.add_option("--most", options.most, "exit 1 when the mean is more than this many times decoding");
  CLI11_PARSE(app, argc, argv);
  fs::create_directories(options.folder);
  int code = 1;
  try {
    code = run(options);
  } catch (const std::exception& error) {
    std::cerr << "assess_bench: " << error.what() << "\n";
  }
  fs::remove_all(options.folder);
  return code;
}
