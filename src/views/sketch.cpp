#include "views/sketch.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <system_error>

#include "base/files.hpp"
#include "base/kinds.hpp"
#include "base/trouble.hpp"
#include "views/fit.hpp"
#include "views/lettering.hpp"
#include "views/marking_pictures.hpp"
#include "views/palette.hpp"

namespace lotwear {

namespace {

constexpr int kLongSide = 1600;  // px
constexpr Ink kDark{16, 18, 20}, kLight{255, 255, 255};
constexpr Ink kGridInk{120, 226, 255};

struct Reduced {
  cv::Mat picture;
  double scale = 1;  ///< picture pixels a photo pixel
};

Reduced reduced(const Photo& photo) {
  const Fit size = fit(photo.rgb.size(), kLongSide, 1);
  Reduced result{{}, size.scale};
  cv::resize(photo.rgb(cv::Rect({0, 0}, size.from)), result.picture, size.to, 0, 0, cv::INTER_AREA);
  return result;
}

/// Light words on a dark tag.
void write_words(cv::Mat& rgb, const std::string& words, cv::Point at, double size_px = 15) {
  const cv::Mat mask = lettering(words, size_px);
  const cv::Point corner(std::clamp(at.x, 0, std::max(0, rgb.cols - mask.cols - 10)),
                         std::clamp(at.y, 0, std::max(0, rgb.rows - mask.rows - 6)));
  rgb(cv::Rect(corner, mask.size() + cv::Size(10, 6)) & cv::Rect({0, 0}, rgb.size())).setTo(cv::Scalar(16, 18, 20));
  lay_ink(rgb, mask, corner + cv::Point(5, 3), kLight);
}

struct KeyEntry {
  std::string words;
  Ink ink;
};

void write_key(cv::Mat& rgb, const std::vector<KeyEntry>& entries) {
  int x = 10;
  for (const KeyEntry& entry : entries) {
    const cv::Mat mask = lettering(entry.words, 14);
    const cv::Rect tag(x, rgb.rows - mask.rows - 16, mask.cols + 32, mask.rows + 8);
    const cv::Rect frame({0, 0}, rgb.size());
    rgb(tag & frame).setTo(cv::Scalar(16, 18, 20));
    rgb(cv::Rect(tag.x + 5, tag.y + 5, 14, tag.height - 10) & frame)
        .setTo(cv::Scalar(entry.ink.r, entry.ink.g, entry.ink.b));
    lay_ink(rgb, mask, {tag.x + 25, tag.y + 4}, kLight);
    x += tag.width + 6;
  }
}

/// A map of the finder at the size of the picture; cells and pixels have their centres at half numbers.
cv::Mat at_picture_size(const cv::Mat& map, double photo_per_cell, const Reduced& photo) {
  const double cells = 1 / (photo.scale * photo_per_cell);  // a picture pixel in cells
  const double shift = 0.5 * cells - 0.5;                   // OpenCV's warp puts a pixel's centre at a whole number
  const cv::Mat cell_from_pixel = (cv::Mat_<double>(2, 3) << cells, 0, shift, 0, cells, shift);
  cv::Mat full;
  cv::warpAffine(map, full, cell_from_pixel, photo.picture.size(), cv::INTER_LINEAR | cv::WARP_INVERSE_MAP,
                 cv::BORDER_REPLICATE);
  return full;
}

void lay_share(cv::Mat& rgb, const cv::Mat& share, Ink ink, float strength) {
  const cv::Vec3f colour(ink.r, ink.g, ink.b);
  for (int y = 0; y < rgb.rows; ++y) {
    auto* p = rgb.ptr<cv::Vec3b>(y);
    const auto* s = share.ptr<float>(y);
    for (int x = 0; x < rgb.cols; ++x) {
      const float cover = std::clamp(s[x], 0.0F, 1.0F) * strength;
      for (int c = 0; c < 3; ++c) {
        p[x][c] = cv::saturate_cast<unsigned char>(static_cast<float>(p[x][c]) * (1 - cover) + colour[c] * cover);
      }
    }
  }
}

/// How much of a grid line lies on a pixel: 1 on the line, 0 from a pixel off; nothing where lines would run together.
double on_line(double mm, double mm_per_pixel) {
  constexpr double spacing = 1000, densest = 250;  // mm a pixel
  if (mm_per_pixel > densest) return 0;
  const double off = std::abs(mm - spacing * std::round(mm / spacing));
  return std::clamp(1.3 - off / mm_per_pixel, 0.0, 1.0);
}

}  // namespace

cv::Mat sketch_capture(const Photo& photo) {
  Reduced small = reduced(photo);
  write_words(
      small.picture,
      fmt::format("{} x {}, {}, focal {}, sharpness {:.2f}, blur {:.1f} px, clipped {:.1f} %, {}", photo.rgb.cols,
                  photo.rgb.rows, photo.taken.value_or("no time"),
                  photo.focal_px ? fmt::format("{:.0f} px", *photo.focal_px) : "unknown", photo.quality.sharpness.value,
                  photo.quality.blur_px, percent(photo.quality.clipped), photo.space.name),
      {8, 8});
  int y = 36;
  for (const std::string& advice : photo.quality.advice)
    write_words(small.picture, advice, {8, y}), y += 28;
  return small.picture;
}

cv::Mat sketch_finder(const Photo& photo, const PaintMap& paint) {
  Reduced small = reduced(photo);
  const std::vector<std::pair<const cv::Mat*, KeyEntry>> layers = {
      {&paint.not_ground, {"not ground", kDark}},          {&paint.top_coat, {"top coat", {70, 190, 120}}},
      {&paint.older_coat, {"older coat", kOlderCoat}},     {&paint.lost_abraded, {"worn off", kAbraded}},
      {&paint.lost_flaked, {"flaked off", {230, 60, 80}}}, {&paint.lost_cracked, {"cracked", {120, 70, 220}}}};
  std::vector<KeyEntry> key;
  for (const auto& [map, entry] : layers) {
    if (map->empty()) continue;
    lay_share(small.picture, at_picture_size(*map, paint.photo_per_cell, small), entry.ink, 0.65F);
    key.push_back(entry);
  }
  write_key(small.picture, key);
  return small.picture;
}

cv::Mat sketch_kinds(const Photo& photo, const PaintMap& paint) {
  static const std::array<KeyEntry, kFinderKinds> kinds = {{{"none", kDark},
                                                            {"line", {250, 210, 70}},
                                                            {"stop line", {235, 80, 60}},
                                                            {"crosswalk", {240, 140, 40}},
                                                            {"arrow", {70, 190, 120}},
                                                            {"accessible symbol", {60, 130, 240}},
                                                            {"hatching", {190, 110, 230}},
                                                            {"legend", {90, 220, 220}},
                                                            {"yield line", {230, 120, 170}},
                                                            {"curb", {160, 160, 90}}}};
  Reduced small = reduced(photo);
  std::vector<KeyEntry> key;
  for (std::size_t k = 1; k < std::min(kinds.size(), paint.kinds.size()); ++k) {
    if (paint.kinds[k].empty()) continue;
    lay_share(small.picture, at_picture_size(paint.kinds[k], paint.photo_per_kind_cell, small), kinds[k].ink, 0.65F);
    key.push_back(kinds[k]);
  }
  write_key(small.picture, key);
  return small.picture;
}

cv::Mat sketch_ground(const Photo& photo, const Ground& ground) {
  Reduced small = reduced(photo);
  const GroundFromImage& on_ground = ground.ground_from_image;
  for (int y = 0; y < small.picture.rows; ++y) {
    auto* p = small.picture.ptr<cv::Vec3b>(y);
    for (int x = 0; x < small.picture.cols; ++x) {
      const ImagePoint here{(x + 0.5) / small.scale, (y + 0.5) / small.scale};
      const ImagePoint right{here.x + 1 / small.scale, here.y}, below{here.x, here.y + 1 / small.scale};
      if (on_ground.depth(here) <= 0 || on_ground.depth(right) <= 0 || on_ground.depth(below) <= 0) continue;
      const GroundPoint g = on_ground(here), to_right = on_ground(right) - g, to_below = on_ground(below) - g;
      const double cover = 0.75 * std::max(on_line(g.x, std::hypot(to_right.x, to_below.x)),
                                           on_line(g.y, std::hypot(to_right.y, to_below.y)));
      if (cover <= 0) continue;
      p[x][0] = cv::saturate_cast<unsigned char>(p[x][0] * (1 - cover) + kGridInk.r * cover);
      p[x][1] = cv::saturate_cast<unsigned char>(p[x][1] * (1 - cover) + kGridInk.g * cover);
      p[x][2] = cv::saturate_cast<unsigned char>(p[x][2] * (1 - cover) + kGridInk.b * cover);
    }
  }
  if (ground.sheet.size() >= 3) {
    std::vector<cv::Point> corners;
    for (const ImagePoint& c : ground.sheet) {
      corners.emplace_back(static_cast<int>(c.x * small.scale), static_cast<int>(c.y * small.scale));
    }
    cv::polylines(small.picture, corners, true, {255, 60, 200}, 3, cv::LINE_AA);
  }
  write_words(small.picture,
              fmt::format("plane: {}, tilt {:.0f} degrees, {}", ground.source, ground.tilt_deg,
                          ground.scale_error
                              ? fmt::format("lines 1 m apart (lengths +- {:.1f} %)", percent(*ground.scale_error))
                              : std::string("no scale: lines show proportions only")),
              {8, 8});
  return small.picture;
}

cv::Mat sketch_markings(const Photo& photo, const Markings& markings,
                        const std::vector<std::optional<Interval>>& remaining) {
  constexpr int shift = 4;
  constexpr double furthest = 1e5;  // px; where a ring runs off towards the horizon
  Reduced small = reduced(photo);
  for (std::size_t i = 0; i < markings.footprints.size(); ++i) {
    const Footprint& footprint = markings.footprints[i];
    cv::Point2d label(furthest, furthest);
    for (const ImageRing& ring : in_photo(markings.ground, footprint.rings)) {
      std::vector<cv::Point> points;
      for (const ImagePoint p : ring) {
        if (!std::isfinite(p.x) || !std::isfinite(p.y)) continue;
        const double x = std::clamp(p.x * small.scale, -furthest, furthest);
        const double y = std::clamp(p.y * small.scale, -furthest, furthest);
        points.emplace_back(static_cast<int>(std::lround((x - 0.5) * (1 << shift))),
                            static_cast<int>(std::lround((y - 0.5) * (1 << shift))));
        if (y < label.y) label = {x, y};
      }
      if (points.size() < 3) continue;
      cv::polylines(small.picture, points, true, {16, 18, 20}, 4, cv::LINE_AA, shift);
      cv::polylines(small.picture, points, true, {255, 230, 90}, 2, cv::LINE_AA, shift);
    }
    const bool measured = i < remaining.size() && remaining[i];
    const std::string left = measured ? fmt::format("{:.0f} % ({:.0f}-{:.0f})", percent(remaining[i]->value),
                                                    percent(remaining[i]->low), percent(remaining[i]->high))
                                      : std::string("not measured");
    write_words(small.picture,
                fmt::format("{} {} ({:.0f} % sure) {}{}", i + 1, word(footprint.kind),
                            percent(footprint.kind_confidence), left, footprint.cut_off ? ", cut off" : ""),
                {static_cast<int>(label.x), static_cast<int>(label.y) - 26});
  }
  return small.picture;
}

cv::Mat sketch_plans(const std::vector<LossMap>& maps, const std::vector<std::string>& names) {
  constexpr std::size_t most = 40;
  constexpr int gap = 10, tile_height = 380;
  std::vector<cv::Mat> tiles;
  for (std::size_t i = 0; i < std::min(maps.size(), most); ++i) {
    const IndexedPicture loss = loss_picture(maps[i]);
    cv::Mat drawn(loss.index.size(), CV_8UC3);
    for (int y = 0; y < drawn.rows; ++y) {
      for (int x = 0; x < drawn.cols; ++x) {
        const Ink ink = loss.inks[loss.index.at<unsigned char>(y, x)];
        drawn.at<cv::Vec3b>(y, x) = {ink.r, ink.g, ink.b};
      }
    }
    const cv::Mat plan = plan_picture(maps[i], PlanScale::nominal);
    cv::Mat pair(std::max(plan.rows, drawn.rows) + 24, plan.cols + gap + drawn.cols, CV_8UC3,
                 cv::Scalar(255, 255, 255));
    plan.copyTo(pair(cv::Rect(0, 24, plan.cols, plan.rows)));
    drawn.copyTo(pair(cv::Rect(plan.cols + gap, 24, drawn.cols, drawn.rows)));
    write_words(pair, i < names.size() ? names[i] : std::to_string(i + 1), {0, 0}, 13);
    const double times =
        std::min({1.0, static_cast<double>(tile_height) / pair.rows, static_cast<double>(kLongSide) / pair.cols});
    cv::Mat tile;
    cv::resize(pair, tile, {}, times, times, cv::INTER_AREA);
    tiles.push_back(tile);
  }
  std::vector<cv::Point> corners;
  cv::Point next(0, 0);
  int row_height = 0;
  for (const cv::Mat& tile : tiles) {
    if (next.x > 0 && next.x + tile.cols > kLongSide) next = {0, next.y + row_height + gap}, row_height = 0;
    corners.push_back(next);
    next.x += tile.cols + gap;
    row_height = std::max(row_height, tile.rows);
  }
  cv::Mat sheet(std::max(40, next.y + row_height), kLongSide, CV_8UC3, cv::Scalar(255, 255, 255));
  for (std::size_t i = 0; i < tiles.size(); ++i)
    tiles[i].copyTo(sheet(cv::Rect(corners[i], tiles[i].size())));
  if (tiles.empty()) write_words(sheet, "nothing was measured", {0, 8});
  return sheet;
}

void write_sketch(const std::filesystem::path& folder, const Photo& photo, const std::string& stage,
                  const cv::Mat& picture) {
  std::error_code error;
  std::filesystem::create_directories(folder, error);
  if (error) {
    throw Failure(
        fmt::format("{}: cannot be made ({}); name another folder with --sketch", folder.string(), error.message()));
  }
  cv::Mat bgr;
  cv::cvtColor(picture, bgr, cv::COLOR_RGB2BGR);
  std::vector<unsigned char> bytes;
  require(cv::imencode(".jpg", bgr, bytes, {cv::IMWRITE_JPEG_QUALITY, 88}), "the JPEG encoder works");
  const std::string stem = std::filesystem::path(photo.file).stem().string();
  write_file(folder / fmt::format("{}-{}.jpg", stem, stage), std::string(bytes.begin(), bytes.end()));
}

}  // namespace lotwear
