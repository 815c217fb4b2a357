#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <optional>

#include "base/trouble.hpp"
#include "views/fit.hpp"
#include "views/lettering.hpp"
#include "views/marking_pictures.hpp"

namespace lotwear {

namespace {

constexpr int kLongSide = 900;       // px
constexpr int kUsualLongSide = 420;  // px; a small plan is enlarged to this, four times at most
constexpr int kLeastWidth = 210;     // px; room for the scale bar under a narrow plan
constexpr int kBarRoom = 160;        // px; the longest bar under a narrow plan
constexpr Ink kMargin{255, 255, 255}, kBarInk{30, 34, 38};

struct Bar {
  double mm = 0;
  std::string words;
};

/// The longest of 1, 2, 5, 10 ... that fits, nothing when even the smallest is too long.
std::optional<Bar> metric_bar(double room_mm) {
  std::optional<Bar> best;
  for (double decade = 1; decade <= 10000; decade *= 10) {
    for (const double step : {1.0, 2.0, 5.0}) {
      const double mm = step * decade;
      if (mm > room_mm) return best;
      best = {mm, mm < 1000 ? fmt::format("{:.0f} mm", mm) : fmt::format("{:.0f} m", mm / 1000)};
    }
  }
  return best;
}

std::optional<Bar> customary_bar(double room_mm) {
  constexpr double inch = 25.4, foot = 12 * inch;
  static constexpr std::array<std::pair<double, const char*>, 11> bars = {{{inch, "1 in"},
                                                                           {2 * inch, "2 in"},
                                                                           {3 * inch, "3 in"},
                                                                           {6 * inch, "6 in"},
                                                                           {foot, "1 ft"},
                                                                           {2 * foot, "2 ft"},
                                                                           {3 * foot, "3 ft"},
                                                                           {5 * foot, "5 ft"},
                                                                           {10 * foot, "10 ft"},
                                                                           {20 * foot, "20 ft"},
                                                                           {50 * foot, "50 ft"}}};
  std::optional<Bar> best;
  for (const auto& [mm, words] : bars) {
    if (mm <= room_mm) best = {mm, words};
  }
  return best;
}

void draw_bar(cv::Mat& rgb, cv::Point at, const Bar& bar, double px_per_mm) {
  const int length = std::max(2, static_cast<int>(std::lround(bar.mm * px_per_mm)));
  const cv::Scalar ink(kBarInk.r, kBarInk.g, kBarInk.b);
  const cv::Rect frame({0, 0}, rgb.size());
  rgb(cv::Rect(at.x, at.y - 1, length, 3) & frame).setTo(ink);
  rgb(cv::Rect(at.x, at.y - 5, 2, 11) & frame).setTo(ink);
  rgb(cv::Rect(at.x + length - 2, at.y - 5, 2, 11) & frame).setTo(ink);
  const cv::Mat words = lettering(bar.words, 12);
  lay_ink(rgb, words, {at.x + length + 8, at.y - words.rows / 2}, kBarInk);
}

}  // namespace

PlanScale plan_scale(const Ground& ground) {
  constexpr Fraction enough{0.10};
  return ground.scale_error && *ground.scale_error <= enough ? PlanScale::true_millimetres : PlanScale::nominal;
}

cv::Mat plan_picture(const LossMap& map, PlanScale scale) {
  require(map.plan.type() == CV_8UC3 && !map.plan.empty(), "a plan view holds RGB pixels");
  const auto [from, size, times] = fit(map.plan.size(), kLongSide, kUsualLongSide);
  cv::Mat plan;
  cv::resize(map.plan(cv::Rect({0, 0}, from)), plan, size, 0, 0, times < 1 ? cv::INTER_AREA : cv::INTER_CUBIC);

  const bool real = scale == PlanScale::true_millimetres && map.mm_per_pixel > 0;
  const int strip = real ? 50 : 26;
  const cv::Size sheet(std::max(size.width, kLeastWidth), size.height + strip);
  cv::Mat picture(sheet, CV_8UC3, cv::Scalar(kMargin.r, kMargin.g, kMargin.b));
  plan.copyTo(picture(cv::Rect({(sheet.width - size.width) / 2, 0}, size)));
  if (!real) {
    lay_ink(picture, lettering("No scale in this photo", 12), {8, size.height + 6}, kBarInk);
    return picture;
  }
  const double px_per_mm = times / map.mm_per_pixel;
  const double room_mm = std::max<double>(kBarRoom, 0.4 * size.width) / px_per_mm;
  const std::optional<Bar> feet = customary_bar(std::min(room_mm, (sheet.width - 80) / px_per_mm));
  const std::optional<Bar> metric = metric_bar(std::min(room_mm, (sheet.width - 80) / px_per_mm));
  if (feet) draw_bar(picture, {10, size.height + 14}, *feet, px_per_mm);
  if (metric) draw_bar(picture, {10, size.height + 35}, *metric, px_per_mm);
  return picture;
}

}  // namespace lotwear
