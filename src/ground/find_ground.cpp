#include <algorithm>
#include <cmath>
#include <opencv2/core.hpp>

#include "ground/find_sheet.hpp"
#include "ground/likely_view.hpp"
#include "ground/paint_seen.hpp"
#include "ground/straight_edges.hpp"

namespace lotwear {

namespace {

constexpr float kSurelyGround = 0.7F;     // share of a cell
constexpr double kNoGroundBelow = 0.005;  // of the photo; less pavement than this is a finder's slip
constexpr int kColumns = 24;              // of points that must lie below the horizon
constexpr int kRunOfCells = 3;            // this many ground cells on top of each other are no slip
constexpr int kCellsOfBackdrop = 6;       // above the ground: a backdrop, not the map's rim
constexpr double kEndedColumns = 0.75;    // a car or a post hides the ground, but not right across the picture
constexpr std::size_t kMostPaintPoints = 40;
constexpr double kLens =
    0.003;  // what a lens's bend does to lengths away from the middle, after the phone's correction
constexpr double kAnyHeight = 0.6;    // one standard deviation of the logarithm: a camera anywhere
constexpr double kSteepestFlat = 75;  // degrees; a photo tilted more was not taken to look at the pavement

bool is_ground(const PaintMap& paint, int row, int column) {
  return paint.pavement.at<float>(row, column) + paint.footprint.at<float>(row, column) > kSurelyGround;
}

/// The uppermost ground of columns spread over the photo, and whether something else stands above it right across.
GroundTop top_of_ground(const PaintMap& paint) {
  GroundTop top;
  if (paint.pavement.empty() || paint.footprint.empty()) return top;
  int ended = 0;
  for (int i = 0; i < kColumns; ++i) {
    const int column = static_cast<int>((i + 0.5) / kColumns * paint.pavement.cols);
    int run = 0;
    for (int row = 0; row < paint.pavement.rows; ++row) {
      run = is_ground(paint, row, column) ? run + 1 : 0;
      if (run < kRunOfCells) continue;
      const int first = row - kRunOfCells + 1;
      top.points.push_back(ImagePoint{column + 0.5, first + 0.5} * paint.photo_per_cell);
      if (first >= kCellsOfBackdrop && !paint.not_ground.empty()) {
        ended += cv::mean(paint.not_ground(cv::Range(0, first), cv::Range(column, column + 1)))[0] > 0.8 ? 1 : 0;
      }
      break;
    }
  }
  top.is_end = ended > kEndedColumns * kColumns;
  return top;
}

/// Points spread evenly over the paint: where lengths will be measured.
std::vector<ImagePoint> paint_points(const PaintMap& paint) {
  std::vector<ImagePoint> points;
  if (paint.footprint.empty()) return points;
  const int step = std::max(1, paint.footprint.cols / 48);
  for (int row = step / 2; row < paint.footprint.rows; row += step) {
    for (int column = step / 2; column < paint.footprint.cols; column += step) {
      if (paint.footprint.at<float>(row, column) > 0.5F) {
        points.push_back(ImagePoint{column + 0.5, row + 0.5} * paint.photo_per_cell);
      }
    }
  }
  if (points.size() <= kMostPaintPoints) return points;
  std::vector<ImagePoint> spread;
  for (std::size_t i = 0; i < kMostPaintPoints; ++i)
    spread.push_back(points[i * points.size() / kMostPaintPoints]);
  return spread;
}

bool shows_ground(const PaintMap& paint) {
  if (paint.pavement.empty() || paint.footprint.empty()) return true;  // the finder said nothing: no reason to refuse
  return cv::mean(paint.pavement)[0] + cv::mean(paint.footprint)[0] > kNoGroundBelow;
}

/// The height of a hand says something only about a photo that a hand-held camera took.
bool held_by_hand(const Photo& photo, double tilt_deg) {
  return camera_of(photo).focal_known && tilt_deg < kSteepestFlat;
}

CameraHeight height_of(const ViewBelief& belief) {
  return {belief.view.log_height, std::sqrt(belief.covariance(3, 3))};
}

/// What was seen, of a belief that rests on it and on what was believed before. Nothing when little was.
std::optional<CameraHeight> without(const CameraHeight& after, const CameraHeight& before) {
  const double information = 1 / (after.error * after.error) - 1 / (before.error * before.error);
  if (information <= 0) return std::nullopt;
  const double weighed = after.log_mm / (after.error * after.error) - before.log_mm / (before.error * before.error);
  return CameraHeight{weighed / information, std::sqrt(1 / information)};
}

/// The ground of a belief, with its errors where the paint is.
Ground believed(const ViewBelief& belief, const PaintMap& paint, cv::Size size) {
  Ground ground = ground_of(belief.view, size);
  std::vector<ImagePoint> at = paint_points(paint);
  if (at.empty()) at = usual_points(belief.view, size);
  const LengthErrors errors = length_errors(belief, size, at);
  ground.shape_error = Fraction{std::hypot(errors.shape, kLens)};
  ground.scale_error = Fraction{std::hypot(errors.scale, kLens)};
  return ground;
}

}  // namespace

Result<Ground> find_ground(const Photo& photo, const PaintMap& paint) {
  require(!photo.rgb.empty(), "a photo has pixels");
  const cv::Size size = photo.rgb.size();
  const auto sheet = locate_sheet(photo);
  if (!sheet && !shows_ground(paint)) {
    return Problem{photo.file, "no pavement in the picture; point the camera at the ground in front of you"};
  }
  const ViewPrior prior = sheet ? ViewPrior{sheet->belief, true} : hand_held(camera_of(photo));
  const LikelyView likely = likely_view(prior, straight_edges(photo, paint), top_of_ground(paint), size);
  Ground ground = believed(likely.belief, paint, size);
  if (!sheet && !held_by_hand(photo, ground.tilt_deg)) ground.scale_error.reset();
  ground.source = sheet ? "scale-sheet" : likely.from_edges ? "focal-length" : "assumed";
  if (sheet) {
    ground.sheet = sheet->outline;
    ground.height_seen = height_of(likely.belief);
  } else if (ground.scale_error) {
    ground.height_assumed = height_of(likely.belief);
  }
  return ground;
}

Ground settle_ground(const Photo& photo, const PaintMap& paint, const PaintSeen& seen, const Ground& before) {
  require(before.source != "scale-sheet", "a sheet knows more than paint");
  const cv::Size size = photo.rgb.size();
  ViewPrior prior = hand_held(camera_of(photo));
  const bool by_hand = held_by_hand(photo, before.tilt_deg);
  if (!by_hand) prior.belief.covariance(3, 3) = kAnyHeight * kAnyHeight;
  const LikelyView likely = likely_view(prior, seen, top_of_ground(paint), size);
  Ground ground = believed(likely.belief, paint, size);
  ground.source = likely.from_edges ? "focal-length" : "assumed";
  if (likely.from_sizes) {
    const bool stripes = std::any_of(seen.sizes.families.begin(), seen.sizes.families.end(),
                                     [](const SizeFamily& f) { return f.is_width; });
    ground.source = stripes ? "stripe-width" : "shape";
  } else if (by_hand) {
    ground.height_assumed = height_of(likely.belief);
  } else {
    ground.scale_error.reset();
  }
  ground.height_seen = without(height_of(likely.belief), height_of(prior.belief));
  return ground;
}

}  // namespace lotwear
