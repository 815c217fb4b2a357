#include "ground/fiducials.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "ground/edge_line.hpp"
#include "ground/opencv_points.hpp"
#include "ground/paper_quad.hpp"

namespace lotwear {

namespace {

// Two reductions, the coarse one first: it costs a sixth and sees every sheet within about 2 m of a 12 MP phone.
// Farther off, or seen flat, a fiducial alone is legible in the whole photo at best, where the pavement's grain makes
// squares by the hundred; the paper as a whole still is.
constexpr std::size_t kCoarsePixels = 1'200'000, kFinePixels = 4'800'000;  // at most; 12 MP halves to 3 and 0.75
constexpr std::size_t kEnough = 4;                   // fiducials; with fewer the paper as a whole is looked for
constexpr double kPaperErrorPx = 2;                  // of a corner placed by the paper's; all are off together
constexpr int kCoarseWindow = 13, kFineWindow = 23;  // pixels; about a cell of the largest squares still readable there
// Ink on paper in deep shade still differs by 25 of 255 from the mean of both; asphalt's texture seldom does by 12. The
// detector's own 7 finds as many sheets and takes ten times as long over the texture.
constexpr double kThreshold = 12;
constexpr double kSmallestPerimeter = 0.02;  // of the longer side
constexpr double kFullPixelsAtMost = 2.5e6;  // of the part looked at again at full resolution
constexpr double kLeastErrorPx = 0.07;       // of a corner: sharpening and JPEG blocks, which repeat along an edge
constexpr int kCorrectedBits = 1;            // of 25; the code words differ in 8

const cv::Ptr<cv::aruco::Dictionary>& sheet_dictionary() {
  static const cv::Ptr<cv::aruco::Dictionary> dictionary = cv::aruco::getPredefinedDictionary(cv::aruco::DICT_5X5_50);
  return dictionary;
}

struct Quad {
  int id = 0;
  std::array<ImagePoint, 4> corners;
};

std::vector<Quad> detect(const cv::Mat& grey, int window, double factor, cv::Point corner) {
  const auto parameters = cv::aruco::DetectorParameters::create();
  parameters->adaptiveThreshWinSizeMin = parameters->adaptiveThreshWinSizeMax = window;
  parameters->adaptiveThreshConstant = kThreshold;
  parameters->minMarkerPerimeterRate = kSmallestPerimeter;
  parameters->minMarkerDistanceRate = 0.02;
  parameters->errorCorrectionRate =
      (kCorrectedBits + 0.5) / sheet_dictionary()->maxCorrectionBits;  // the detector rounds the product down
  std::vector<std::vector<cv::Point2f>> corners;
  std::vector<int> ids;
  cv::aruco::detectMarkers(grey, sheet_dictionary(), corners, ids, parameters);
  std::vector<Quad> quads;
  for (std::size_t i = 0; i < ids.size(); ++i) {
    Quad quad{ids[i], {}};
    for (std::size_t k = 0; k < 4; ++k)
      quad.corners[k] = from_opencv(corners[i][k], factor, corner);
    quads.push_back(quad);
  }
  return quads;
}

std::array<GroundPoint, 4> on_sheet(const Fiducial& f) {
  return {GroundPoint{f.x_mm, f.y_mm},
          {f.x_mm + f.side_mm, f.y_mm},
          {f.x_mm + f.side_mm, f.y_mm + f.side_mm},
          {f.x_mm, f.y_mm + f.side_mm}};
}

double size_px(const std::array<ImagePoint, 4>& corners) {
  return std::sqrt(area(ImageRing(corners.begin(), corners.end())));
}

ImageFromGround projection(const std::array<GroundPoint, 4>& from, const std::array<ImagePoint, 4>& to) {
  std::array<cv::Point2f, 4> a, b;
  for (std::size_t k = 0; k < 4; ++k) {
    a[k] = {static_cast<float>(from[k].x), static_cast<float>(from[k].y)};
    b[k] = {static_cast<float>(to[k].x), static_cast<float>(to[k].y)};
  }
  const cv::Mat h = cv::getPerspectiveTransform(a.data(), b.data());
  std::array<double, 9> row_major{};
  std::copy(h.ptr<double>(), h.ptr<double>() + 9, row_major.begin());
  return ImageFromGround(row_major);
}

/// The quads that lie where `anchor` says the other fiducials of its sheet should be.
std::vector<Quad> agreeing(const SheetLayout& layout, const std::vector<Quad>& quads, const Quad& anchor) {
  const auto of_id = [&](int id) {
    return std::find_if(layout.fiducials.begin(), layout.fiducials.end(),
                        [&](const Fiducial& f) { return f.id == id; });
  };
  const Fiducial& home = *of_id(anchor.id);
  const ImageFromGround map = projection(on_sheet(home), anchor.corners);
  std::vector<Quad> group;
  for (const Fiducial& f : layout.fiducials) {
    const GroundPoint middle{f.x_mm + f.side_mm / 2, f.y_mm + f.side_mm / 2};
    const ImagePoint expected = map(middle);
    // A pixel of error in the anchor's corners grows with the distance in units of its side.
    const double away = length(middle - GroundPoint{home.x_mm + home.side_mm / 2, home.y_mm + home.side_mm / 2});
    const Quad* nearest = nullptr;
    double distance = 0;
    for (const Quad& quad : quads) {
      if (quad.id != f.id) continue;
      const double d = length(centroid(ImageRing(quad.corners.begin(), quad.corners.end())) - expected);
      const double allowed = size_px(quad.corners) * (0.3 + 0.3 * away / home.side_mm);
      if (d < allowed && (nearest == nullptr || d < distance)) {
        nearest = &quad;
        distance = d;
      }
    }
    if (nearest != nullptr) group.push_back(*nearest);
  }
  return group;
}

/// Largest consistent group over both papers; two sheets in one photo, or a stray pattern, do not mix.
RoughSheet largest_group(const std::vector<Quad>& quads) {
  RoughSheet best;
  double best_size = 0;
  for (const Paper paper : {Paper::letter, Paper::a4}) {
    const SheetLayout layout = sheet_layout(paper);
    for (const Quad& anchor : quads) {
      if (std::none_of(layout.fiducials.begin(), layout.fiducials.end(),
                       [&](const Fiducial& f) { return f.id == anchor.id; })) {
        continue;
      }
      const std::vector<Quad> group = agreeing(layout, quads, anchor);
      double size = 0;
      for (const Quad& quad : group)
        size += size_px(quad.corners);
      if (group.size() < best.fiducials.size() || (group.size() == best.fiducials.size() && size <= best_size))
        continue;
      best.paper = paper;
      best.fiducials.clear();
      for (const Quad& quad : group)
        best.fiducials.push_back({quad.id, quad.corners, {2, 2, 2, 2}});
      best_size = size;
    }
  }
  return best;
}

cv::Mat grey_of(const cv::Mat& rgb) {
  cv::Mat grey;
  cv::cvtColor(rgb, grey, cv::COLOR_RGB2GRAY);
  return grey;
}

/// Half as wide and high, each pixel the mean of four: an odd last row or column is left out, so that the factor is
/// exact.
cv::Mat halved(const cv::Mat& picture) {
  cv::Mat half;
  const cv::Rect even(0, 0, picture.cols / 2 * 2, picture.rows / 2 * 2);
  cv::resize(picture(even), half, even.size() / 2, 0, 0, cv::INTER_AREA);
  return half;
}

/// Where the whole sheet should be, from the fiducials seen of it.
cv::Rect sheet_part(const RoughSheet& sheet, cv::Size photo) {
  const SheetLayout layout = sheet_layout(sheet.paper);
  const auto& largest = *std::max_element(
      sheet.fiducials.begin(), sheet.fiducials.end(),
      [](const SeenFiducial& a, const SeenFiducial& b) { return size_px(a.corners) < size_px(b.corners); });
  const auto home = std::find_if(layout.fiducials.begin(), layout.fiducials.end(),
                                 [&](const Fiducial& f) { return f.id == largest.id; });
  const ImageFromGround map = projection(on_sheet(*home), largest.corners);
  const double grown = 20;
  std::vector<cv::Point2f> corners;
  for (const GroundPoint g : {GroundPoint{-grown, -grown},
                              {layout.width_mm + grown, -grown},
                              {layout.width_mm + grown, layout.height_mm + grown},
                              {-grown, layout.height_mm + grown}}) {
    if (map.depth(g) * map.depth({home->x_mm, home->y_mm}) <= 0) continue;  // past the horizon of a rough guess
    const ImagePoint p = map(g);
    corners.emplace_back(static_cast<float>(std::clamp(p.x, 0.0, 1.0 * photo.width)),
                         static_cast<float>(std::clamp(p.y, 0.0, 1.0 * photo.height)));
  }
  return corners.empty() ? cv::Rect() : cv::boundingRect(corners) & cv::Rect({}, photo);
}

/// What else of the sheet the photo shows at full resolution.
RoughSheet more_of_it(const Photo& photo, const RoughSheet& sheet) {
  if (sheet.fiducials.size() == sheet_layout(sheet.paper).fiducials.size()) return sheet;
  const cv::Rect part = sheet_part(sheet, photo.rgb.size());
  if (part.area() == 0 || part.area() > kFullPixelsAtMost) return sheet;
  RoughSheet closer = largest_group(detect(grey_of(photo.rgb(part)), kFineWindow, 1, part.tl()));
  return closer.fiducials.size() > sheet.fiducials.size() ? closer : sheet;
}

/// All fiducials, where the paper's corners put them. `factor`: photo pixels a pixel of `grey`.
RoughSheet sheet_on_paper(const cv::Mat& grey, double factor) {
  RoughSheet sheet;
  const std::optional<PaperQuad> quad = find_paper(grey);
  if (!quad) return sheet;
  sheet.paper = quad->paper;
  const SheetLayout layout = sheet_layout(quad->paper);
  std::array<ImagePoint, 4> corners = quad->corners;
  for (ImagePoint& corner : corners)
    corner = corner * factor;
  const ImageFromGround map = projection(
      {GroundPoint{0, 0}, {layout.width_mm, 0}, {layout.width_mm, layout.height_mm}, {0, layout.height_mm}}, corners);
  const double error = kPaperErrorPx * factor;
  for (const Fiducial& f : layout.fiducials) {
    SeenFiducial seen{f.id, {}, {error, error, error, error}};
    const auto square = on_sheet(f);
    for (std::size_t k = 0; k < 4; ++k)
      seen.corners[k] = map(square[k]);
    sheet.fiducials.push_back(seen);
  }
  return sheet;
}

}  // namespace

RoughSheet detect_sheet(const Photo& photo) {
  // Halves of halves down to the coarse size; the last two are looked at, the coarse one first.
  std::vector<cv::Mat> greys{photo.rgb.total() > kFinePixels ? cv::Mat() : grey_of(photo.rgb)};
  cv::Mat rgb = photo.rgb;
  while (rgb.total() > kCoarsePixels) {
    rgb = halved(rgb);
    greys.push_back(rgb.total() > kFinePixels ? cv::Mat() : grey_of(rgb));
  }
  RoughSheet sheet;
  int power = static_cast<int>(greys.size());
  for (const int window : {kCoarseWindow, kFineWindow}) {
    if (power == 0 || greys[static_cast<std::size_t>(power - 1)].empty()) break;
    --power;
    sheet = largest_group(detect(greys[static_cast<std::size_t>(power)], window, std::ldexp(1.0, power), {}));
    if (!sheet.fiducials.empty()) break;
  }
  if (!sheet.fiducials.empty() && power > 0) sheet = more_of_it(photo, sheet);
  if (sheet.fiducials.size() >= kEnough) return sheet;
  const auto finest = std::find_if(greys.begin(), greys.end(), [](const cv::Mat& grey) { return !grey.empty(); });
  if (finest == greys.end()) return sheet;
  const RoughSheet by_paper = sheet_on_paper(*finest, std::ldexp(1.0, static_cast<int>(finest - greys.begin())));
  return by_paper.fiducials.size() > sheet.fiducials.size() ? by_paper : sheet;
}

std::optional<SeenFiducial> refine_fiducial(const Photo& photo, int id, const std::array<ImagePoint, 4>& rough,
                                            int cells) {
  std::array<std::optional<EdgeLine>, 4> edges;
  for (std::size_t k = 0; k < 4; ++k) {
    const ImagePoint a = rough[k], b = rough[(k + 1) % 4];
    const ImagePoint c = rough[(k + 2) % 4], d = rough[(k + 3) % 4];
    if (length(b - a) < 4) return std::nullopt;
    // A cell's depth behind this edge, from the square's area over the edge's length.
    const double depth = area(ImageRing{a, b, c, d}) / length(b - a) / cells;
    EdgeSearch search;
    search.reach_px = std::clamp(0.8 * depth, 1.5, 14.0);
    search.least_crossings = 0.5;
    // The outer tenths belong to the corners, where blur rounds the edge.
    edges[k] = fit_edge(photo, a + (b - a) * 0.1, b - (b - a) * 0.1, search);
    if (!edges[k] || edges[k]->left_over_right < 1) return std::nullopt;
  }
  SeenFiducial seen;
  seen.id = id;
  for (std::size_t k = 0; k < 4; ++k) {
    const EdgeLine &before = *edges[(k + 3) % 4], &after = *edges[k];
    const auto corner = meeting(before, after);
    const double side = std::min(length(rough[(k + 1) % 4] - rough[k]), length(rough[(k + 3) % 4] - rough[k]));
    if (!corner || length(*corner - rough[k]) > std::max(3.0, 0.2 * side)) return std::nullopt;
    seen.corners[k] = *corner;
    const auto at_end = [](const EdgeLine& e) {
      return std::hypot(e.offset_error, e.angle_error * length(e.to - e.from) / 2 / 0.8);
    };
    const double turned = std::abs(cross(before.to - before.from, after.to - after.from)) /
                          (length(before.to - before.from) * length(after.to - after.from));
    seen.error_px[k] = std::hypot(kLeastErrorPx, std::hypot(at_end(before), at_end(after)) / turned);
  }
  return seen;
}

}  // namespace lotwear
