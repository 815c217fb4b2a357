#include "marking/arrow_arms.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <optional>

namespace lotwear {

namespace {

constexpr double kWidestGapMm = 600;  // the longest link there is, a third of an arrow
constexpr double kCovered = 0.88;     // of each part
constexpr double kLeastAgreement = 0.66;
constexpr double kForTwoDrawings =
    0.1;  // of agreement: two drawings fit what there is better than one that bridges a gap
constexpr double kLongestHead = 1500;  // millimetres, of the largest arrows
constexpr int kFewestCells = 60;

bool has_two_heads(Kind kind) {
  return kind == Kind::arrow_straight_left || kind == Kind::arrow_straight_right || kind == Kind::arrow_left_right;
}

bool is_arrow_already(const Reading& r) { return r.explained && r.as_shape && r.shape && is_arrow(r.shape->kind); }

/// What may have been an arrow's other head: alone it reads as any small arrow, a triangle, a short block or nothing.
bool may_be_arm(const Piece& piece, const Reading& r) {
  if (r.field || piece.cells < kFewestCells) return false;
  if (!r.explained) return true;
  if (r.as_shape) return r.shape && is_arrow(r.shape->kind);
  return r.bars.bars.size() < 2 &&
         std::all_of(r.bars.bars.begin(), r.bars.bars.end(), [](const Bar& b) { return b.length() < kLongestHead; });
}

double agreement_of(const Reading& r) { return std::max(r.bars.agreement, r.shape ? r.shape->agreement : 0.0); }

struct Together {
  Piece piece;
  Reading reading;
};

std::optional<Together> two_headed(const Piece& a, const Reading& as_a, const Piece& b, const Reading& as_b,
                                   const Sight& sight, const std::vector<Shape>& shapes) {
  Together both{united(a, b, sight.paint, sight.ground), {}};
  both.reading = read_piece(both.piece, sight, shapes);
  const auto& shape = both.reading.shape;
  if (!shape || !has_two_heads(shape->kind)) return std::nullopt;
  const double apart = (agreement_of(as_a) * a.cells + agreement_of(as_b) * b.cells) / (a.cells + b.cells);
  if (shape->agreement < std::max(kLeastAgreement, apart - kForTwoDrawings)) return std::nullopt;
  if (std::min(share_covered(a, shape->rings, sight), share_covered(b, shape->rings, sight)) < kCovered)
    return std::nullopt;
  both.reading.explained = both.reading.as_shape = true;
  return both;
}

}  // namespace

double share_covered(const Piece& piece, const std::vector<GroundRing>& rings, const Sight& sight) {
  cv::Mat drawn(piece.mask.size(), CV_8U, cv::Scalar(0));
  std::vector<std::vector<cv::Point>> outlines;
  for (const GroundRing& ring : rings) {
    outlines.emplace_back();
    for (const ImagePoint& p : sight.ground.image_from_ground(ring)) {
      outlines.back().emplace_back(static_cast<int>(std::floor(p.x / sight.paint.photo_per_cell)) - piece.box.x,
                                   static_cast<int>(std::floor(p.y / sight.paint.photo_per_cell)) - piece.box.y);
    }
  }
  cv::fillPoly(drawn, outlines, cv::Scalar(255));
  return static_cast<double>(cv::countNonZero(drawn & piece.mask)) / std::max(1, piece.cells);
}

void unite_arrow_arms(PiecesRead& read, const Sight& sight, const std::vector<Shape>& shapes) {
  std::vector<Piece>& pieces = read.pieces;
  std::vector<Reading>& readings = read.readings;
  for (std::size_t i = 0; i < pieces.size(); ++i) {
    for (std::size_t j = 0; j < pieces.size(); ++j) {
      if (j == i || !is_arrow_already(readings[i]) || has_two_heads(readings[i].shape->kind)) continue;
      if (pieces[j].cells > pieces[i].cells || !may_be_arm(pieces[j], readings[j])) continue;
      if (!same_paint(pieces[i].contrast, pieces[j].contrast)) continue;
      if (gap_between(pieces[i], pieces[j], sight.paint, sight.ground) > kWidestGapMm) continue;
      auto both = two_headed(pieces[i], readings[i], pieces[j], readings[j], sight, shapes);
      if (!both) continue;
      pieces[i] = std::move(both->piece);
      readings[i] = std::move(both->reading);
      pieces.erase(pieces.begin() + static_cast<std::ptrdiff_t>(j));
      readings.erase(readings.begin() + static_cast<std::ptrdiff_t>(j));
      break;
    }
  }
}

}  // namespace lotwear
