// score: renders scenes or reads them, runs `lotwear assess` on them and says how near the survey comes to the truth.

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <CLI/CLI.hpp>
#include <cstdlib>
#include <filesystem>
#include <iostream>
#include <random>

#include "base/files.hpp"
#include "base/trouble.hpp"
#include "scoring/score.hpp"

namespace {

using namespace lotwear;
using namespace lotwear::scoring;
namespace fs = std::filesystem;

struct Options {
  std::vector<std::string> tiers;
  int count = 12;
  std::uint64_t seed = 1;
  unsigned threads = 2;
  double megapixels = 12;
  fs::path keep, json, survey, truth;
  bool markings = false, quiet = false;
  std::vector<fs::path> places;
  std::string lotwear = LOTWEAR_PROGRAM, render = LOTWEAR_RENDER_PROGRAM;
};

std::string quoted(const std::string& word) {
  std::string out = "'";
  for (const char c : word)
    out += c == '\'' ? std::string("'\\''") : std::string(1, c);
  return out + "'";
}

void run_program(const std::string& command) {
  if (std::system(command.c_str()) != 0) throw Failure("this failed: " + command);
}

struct SceneFile {
  std::string name;
  rendering::SceneTruth truth;
};
std::vector<SceneFile> truths_in(const fs::path& folder) {
  constexpr std::string_view ending = ".truth.json";
  std::vector<SceneFile> scenes;
  if (!fs::is_directory(folder))
    throw Failure(folder.string() + ": is not a folder of scenes; render some into it first");
  for (const fs::directory_entry& entry : fs::directory_iterator(folder)) {
    const std::string name = entry.path().filename().string();
    if (!name.ends_with(ending)) continue;
    scenes.push_back({name.substr(0, name.size() - ending.size()),
                      rendering::truth_from_text(read_file(entry.path()), entry.path().string())});
  }
  if (scenes.empty()) throw Failure(folder.string() + ": holds no NAME.truth.json; render scenes into it first");
  std::sort(scenes.begin(), scenes.end(), [](const SceneFile& a, const SceneFile& b) { return a.name < b.name; });
  return scenes;
}

void score_survey(const fs::path& folder, const fs::path& survey_folder, Scores& result) {
  const Survey survey = load_survey(survey_folder);
  result.made_by = "lotwear " + survey.made_by_version;
  for (const SceneFile& scene : truths_in(folder))
    result.scenes.push_back(score_scene(scene.truth, scene.name, survey));
}

/// Runs assess on a folder of scenes; returns the seconds it took.
double assess(const Options& options, const fs::path& folder, const fs::path& survey) {
  fs::remove_all(survey);
  const auto start = std::chrono::steady_clock::now();
  run_program(
      fmt::format("{} assess {} -o {}", quoted(options.lotwear), quoted(folder.string()), quoted(survey.string())));
  return std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
}

int compare(const Options& options) {
  const auto read = [](const fs::path& file) { return result_from_text(read_file(file), file.string()); };
  std::cout << comparison(read(options.places[0]), read(options.places[1]));
  return 0;
}

int score(const Options& options) {
  const fs::path work = options.keep.empty()
                            ? fs::temp_directory_path() / fmt::format("lotwear-score-{}", std::random_device{}())
                            : options.keep;
  Scores result;
  double seconds = 0;
  if (!options.survey.empty()) {
    score_survey(options.truth, options.survey, result);
  } else {
    std::vector<fs::path> folders = options.places;
    for (const std::string& tier : options.tiers) {
      const fs::path folder = work / fmt::format("{}-{}-{}", tier, options.seed, options.count);
      run_program(fmt::format("{} --tier {} --count {} --seed {} --threads {} --megapixels {} -o {}",
                              quoted(options.render), tier, options.count, options.seed, options.threads,
                              options.megapixels, quoted(folder.string())));
      folders.push_back(folder);
    }
    for (std::size_t i = 0; i < folders.size(); ++i) {
      const fs::path survey = work / fmt::format("survey-{}", i + 1);
      seconds += assess(options, folders[i], survey);
      score_survey(folders[i], survey, result);
    }
    result.seconds_per_photo = seconds / static_cast<double>(std::max<std::size_t>(1, result.scenes.size()));
  }
  if (options.markings) std::cout << marking_table(result) << "\n";
  if (!options.markings && !options.quiet) std::cout << scene_table(result) << "\n";
  std::cout << total_table(result);
  const fs::path json = !options.json.empty() ? options.json : options.keep.empty() ? fs::path() : work / "score.json";
  if (!json.empty()) write_file(json, result_text(result));
  if (options.keep.empty()) fs::remove_all(work);
  return 0;
}

}  // namespace

int main(int argc, char** argv) {
  Options options;
  CLI::App app{
      "Says how near `lotwear assess` comes to the truth of rendered scenes.\n"
      "score [--tier T] [DIR...]   renders scenes, or takes folders of them, assesses and scores\n"
      "score BEFORE AFTER          compares two results (JSON), scene by scene and paired"};
  app.add_option("--tier", options.tiers, "clear, plain, hard or all; several may be named")
      ->check(CLI::IsMember({"clear", "plain", "hard", "all"}));
  app.add_option("--count", options.count, "scenes a tier")->check(CLI::Range(1, 100000))->capture_default_str();
  app.add_option("--seed", options.seed, "seed of the first scene")->capture_default_str();
  app.add_option("--threads", options.threads, "scenes rendered at a time")
      ->check(CLI::Range(1U, 256U))
      ->capture_default_str();
  app.add_option("--megapixels", options.megapixels, "size of the rendered photos")->capture_default_str();
  app.add_option("--keep", options.keep, "keep scenes, surveys and score.json in this folder");
  app.add_option("--json", options.json, "write the result here");
  CLI::Option* survey = app.add_option("--survey", options.survey, "score this survey as it is, without assessing");
  app.add_option("--truth", options.truth, "the scenes that --survey was made from")->needs(survey);
  app.add_flag("--markings", options.markings, "each marking: measured beside true");
  app.add_flag("--quiet", options.quiet, "the totals alone");
  app.add_option("--lotwear", options.lotwear, "the program to score")->capture_default_str();
  app.add_option("places", options.places, "folders of scenes, or two results to compare");
  CLI11_PARSE(app, argc, argv);
  if (std::find(options.tiers.begin(), options.tiers.end(), "all") != options.tiers.end())
    options.tiers = {"clear", "plain", "hard"};
  if (options.tiers.empty() && options.places.empty() && options.survey.empty()) options.tiers = {"plain"};
  try {
    if (!options.survey.empty() && options.truth.empty())
      throw Failure("--survey needs --truth FOLDER with the scenes");
    const bool two_results =
        options.places.size() == 2 && std::all_of(options.places.begin(), options.places.end(),
                                                  [](const fs::path& p) { return p.extension() == ".json"; });
    return two_results ? compare(options) : score(options);
  } catch (const std::exception& e) {
    std::cerr << "score: " << e.what() << "\n";
    return 1;
  }
}
