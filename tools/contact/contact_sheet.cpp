// contact_sheet: assesses folders of photos and draws what was found over each photo, many photos to one picture.
// Numbers say how often an answer is wrong; only looking says how.

#include <fmt/format.h>

#include <algorithm>
#include <CLI/CLI.hpp>
#include <cmath>
#include <filesystem>
#include <iostream>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <random>

#include "app/assess.hpp"
#include "base/files.hpp"
#include "base/trouble.hpp"
#include "capture/photo.hpp"
#include "ground/opencv_points.hpp"
#include "survey/survey.hpp"
#include "views/lettering.hpp"
#include "views/palette.hpp"

namespace {

using namespace lotwear;
namespace fs = std::filesystem;

struct Options {
  std::vector<fs::path> folders;
  fs::path out = "contact-sheet.jpg";
  fs::path keep;
  int across = 4, width = 480;
  unsigned threads = 2;
};

constexpr Ink kPaper{24, 26, 28}, kWords{255, 255, 255}, kTag{16, 18, 20};

/// By action: what the person with the van looks for first.
Ink ink_of(Action action) {
  switch (action) {
    case Action::repaint:
      return {255, 176, 0};
    case Action::grind_and_repaint:
      return {255, 64, 96};
    default:
      return {64, 200, 255};
  }
}

void write_words(cv::Mat& rgb, const std::string& words, cv::Point at, Ink ink) {
  const cv::Mat mask = lettering(words, 13);
  const cv::Point corner(std::clamp(at.x, 0, std::max(0, rgb.cols - mask.cols - 6)),
                         std::clamp(at.y, 0, std::max(0, rgb.rows - mask.rows - 2)));
  rgb(cv::Rect(corner, mask.size() + cv::Size(6, 2)) & cv::Rect({0, 0}, rgb.size()))
      .setTo(cv::Scalar(kTag.r, kTag.g, kTag.b));
  lay_ink(rgb, mask, corner + cv::Point(3, 1), ink);
}

void draw(cv::Mat& rgb, const SurveyMarking& marking, double scale) {
  constexpr int shift = 4;  // binary digits after the point
  const Ink ink = ink_of(marking.decision.action);
  cv::Point2d top(0, 1e9);
  for (const ImageRing& ring : marking.outline) {
    std::vector<cv::Point> points;
    for (const ImagePoint& p : ring) {
      const cv::Point2d at = to_opencv({p.x * scale, p.y * scale});
      points.emplace_back(static_cast<int>(std::lround(at.x * (1 << shift))),
                          static_cast<int>(std::lround(at.y * (1 << shift))));
      const cv::Point2d inside(std::clamp(at.x, 0.0, rgb.cols - 1.0), std::clamp(at.y, 0.0, rgb.rows - 1.0));
      if (inside.y < top.y) top = inside;
    }
    cv::polylines(rgb, points, true, cv::Scalar(ink.r, ink.g, ink.b), 1, cv::LINE_AA, shift);
  }
  write_words(rgb,
              fmt::format("{} {:.0f} ({:.0f}-{:.0f})", word(marking.kind), percent(marking.condition.remaining.value),
                          percent(marking.condition.remaining.low), percent(marking.condition.remaining.high)),
              top, ink);
}

cv::Mat tile(const fs::path& file, const Survey& survey, int width) {
  const std::string name = file.filename().string();
  const Result<Photo> photo = read_photo(file);
  cv::Mat picture(width * 3 / 4, width, CV_8UC3, cv::Scalar(kPaper.r, kPaper.g, kPaper.b));
  std::string below = name.substr(0, 28);
  if (photo) {
    const double scale = static_cast<double>(width) / photo->rgb.cols;
    cv::resize(photo->rgb, picture, {width, std::max(1, static_cast<int>(std::lround(photo->rgb.rows * scale)))}, 0, 0,
               scale < 1 ? cv::INTER_AREA : cv::INTER_LINEAR);
    for (const SurveyMarking& marking : survey.markings) {
      if (marking.photo == name) draw(picture, marking, scale);
    }
  }
  for (const SurveyPhoto& entry : survey.photos) {
    if (entry.file == name && entry.plane) below += "  " + entry.plane->source;
  }
  int problems = 0;
  for (const Problem& problem : survey.problems)
    problems += problem.file == name;
  if (problems > 0) below += fmt::format("  {} problem{}", problems, problems == 1 ? "" : "s");
  write_words(picture, below, {0, picture.rows}, kWords);
  return picture;
}

/// Rows of tiles, each row as high as its highest.
cv::Mat arrange(const std::vector<cv::Mat>& tiles, int across, int width) {
  constexpr int gap = 4;
  constexpr int highest = 60'000;  // JPEG ends at 65,535
  std::vector<int> tops;
  int bottom = gap;
  for (std::size_t first = 0; first < tiles.size(); first += static_cast<std::size_t>(across)) {
    int high = 0;
    for (std::size_t i = first; i < std::min(tiles.size(), first + static_cast<std::size_t>(across)); ++i)
      high = std::max(high, tiles[i].rows);
    tops.push_back(bottom);
    bottom += high + gap;
  }
  if (bottom > highest) throw Failure("too many photos for one picture; name fewer folders or make --width smaller");
  cv::Mat sheet(bottom, across * (width + gap) + gap, CV_8UC3, cv::Scalar(kPaper.r, kPaper.g, kPaper.b));
  for (std::size_t i = 0; i < tiles.size(); ++i) {
    const int column = static_cast<int>(i) % across;
    tiles[i].copyTo(
        sheet(cv::Rect({gap + column * (width + gap), tops[i / static_cast<std::size_t>(across)]}, tiles[i].size())));
  }
  return sheet;
}

void run(const Options& options) {
  const fs::path work = options.keep.empty()
                            ? fs::temp_directory_path() / fmt::format("lotwear-contact-{}", std::random_device{}())
                            : options.keep;
  std::vector<cv::Mat> tiles;
  for (std::size_t i = 0; i < options.folders.size(); ++i) {
    AssessOptions assessing;
    assessing.photos = {options.folders[i]};
    assessing.survey = work / fmt::format("survey-{}", i + 1);
    assessing.threads = options.threads;
    assess(assessing, std::cerr);
    const Survey survey = load_survey(assessing.survey);
    for (const fs::path& file : list_photos({options.folders[i]}).files)
      tiles.push_back(tile(file, survey, options.width));
  }
  if (options.keep.empty()) fs::remove_all(work);
  cv::Mat sheet = arrange(tiles, options.across, options.width);
  cv::cvtColor(sheet, sheet, cv::COLOR_RGB2BGR);
  std::vector<unsigned char> bytes;
  cv::imencode(".jpg", sheet, bytes, {cv::IMWRITE_JPEG_QUALITY, 90});
  write_file(options.out, {reinterpret_cast<const char*>(bytes.data()), bytes.size()});
  std::cerr << options.out.string() << "\n";
}

}  // namespace

int main(int argc, char** argv) {
  Options options;
  CLI::App app{
      "Assesses folders of photos and draws every outline over its photo, with kind, percent left and its interval:\n"
      "blue leave alone, amber repaint, red grind and repaint"};
  app.add_option("folders", options.folders, "folders of photos")->required()->check(CLI::ExistingDirectory);
  app.add_option("-o,--out", options.out, "the picture, a JPEG")->capture_default_str();
  app.add_option("--across", options.across, "photos in a row")->check(CLI::Range(1, 16))->capture_default_str();
  app.add_option("--width", options.width, "of a photo, pixels")->check(CLI::Range(80, 2000))->capture_default_str();
  app.add_option("--threads", options.threads, "photos at once")->capture_default_str();
  app.add_option("--keep", options.keep, "keep the surveys in this folder");
  CLI11_PARSE(app, argc, argv);
  try {
    run(options);
  } catch (const std::exception& e) {
    std::cerr << "contact_sheet: " << e.what() << "\n";
    return 1;
  }
  return 0;
}
