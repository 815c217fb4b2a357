#include "marking/pieces.hpp"

#include <algorithm>
#include <numeric>
#include <opencv2/imgproc.hpp>

namespace lotwear {

namespace {

/// FinderKind with the most evidence at every cell of the layer maps, `none` left out. CV_8U.
cv::Mat kind_labels(const PaintMap& paint) {
  cv::Mat best(paint.footprint.size(), CV_32F, cv::Scalar(-1)), label(paint.footprint.size(), CV_8U, cv::Scalar(0));
  for (int k = 1; k < kFinderKinds; ++k) {
    cv::Mat share;
    // kind cells are coarser by a whole factor; sizes may differ by the last partial cell
    const double scale = paint.photo_per_kind_cell / paint.photo_per_cell;
    const cv::Matx23d up(1 / scale, 0, 0.5 / scale - 0.5, 0, 1 / scale, 0.5 / scale - 0.5);
    cv::warpAffine(paint.kinds[k], share, up, paint.footprint.size(), cv::INTER_LINEAR | cv::WARP_INVERSE_MAP,
                   cv::BORDER_REPLICATE);
    const cv::Mat better = share > best;
    share.copyTo(best, better);
    label.setTo(k, better);
  }
  return label;
}

/// Kinds of one family may touch without being cut apart (a word among lines stays lines' business).
int family(int kind) {
  switch (static_cast<FinderKind>(kind)) {
    case FinderKind::line:
    case FinderKind::stop_line:
    case FinderKind::crosswalk:
    case FinderKind::hatching: return 1;
    case FinderKind::yield_line: return 2;
    case FinderKind::arrow: return 3;
    case FinderKind::accessible_symbol: return 4;
    case FinderKind::legend: return 5;
    default: return 6;
  }
}

PaintContrast contrast_of(const PaintMap& paint, const cv::Rect& box, const cv::Mat& mask) {
  // paint: the cells the finder is surest of; pavement: a ring around the piece, wide enough to hold some in busy places
  const int reach = 10;
  const cv::Rect wide = cv::Rect(box.x - reach, box.y - reach, box.width + 2 * reach, box.height + 2 * reach) &
                        cv::Rect({0, 0}, paint.footprint.size());
  cv::Mat near(wide.size(), CV_8U, cv::Scalar(0));
  mask.copyTo(near(cv::Rect(box.tl() - wide.tl(), box.size())));
  cv::Mat ring;
  cv::dilate(near, ring, cv::getStructuringElement(cv::MORPH_ELLIPSE, {2 * reach + 1, 2 * reach + 1}));
  const cv::Mat picture = paint.picture(wide);
  const auto mean_where = [&](const cv::Mat& weight) {
    std::array<double, 3> sum{};
    double total = 0;
    for (int r = 0; r < wide.height; ++r) {
      for (int c = 0; c < wide.width; ++c) {
        const double w = static_cast<double>(weight.at<float>(r, c));
        if (w <= 0) continue;
        const auto& v = picture.at<cv::Vec3b>(r, c);
        for (int i = 0; i < 3; ++i) sum[i] += w * v[i];
        total += w;
      }
    }
    for (double& s : sum) s /= std::max(total, 1e-9);
    return sum;
  };
  cv::Mat sure = paint.top_coat(wide).clone(), bare = paint.pavement(wide).clone();
  cv::pow(sure, 4, sure);
  sure.setTo(0, near == 0);
  cv::pow(bare, 4, bare);
  bare.setTo(0, ring == 0);
  return {mean_where(sure), mean_where(bare)};
}

}  // namespace

FinderKind Piece::likely() const {
  return static_cast<FinderKind>(std::max_element(votes.begin(), votes.end()) - votes.begin());
}

std::vector<Piece> find_pieces(const PaintMap& paint, const Ground& ground, cv::Size photo, const PieceSettings& settings) {
  const cv::Mat label = kind_labels(paint);
  cv::Mat families(label.size(), CV_8U);
  cv::Mat table(1, 256, CV_8U, cv::Scalar(6));
  for (int k = 0; k < kFinderKinds; ++k) table.at<uchar>(k) = static_cast<uchar>(family(k));
  cv::LUT(label, table, families);
  const cv::Mat painted = paint.footprint > settings.footprint_above;

  // what the map shows beyond the horizon, too far away or under the scale sheet is no marking
  cv::Mat reachable(painted.size(), CV_8U, cv::Scalar(0));
  for (int r = 0; r < painted.rows; ++r) {
    for (int c = 0; c < painted.cols; ++c) {
      if (painted.at<uchar>(r, c) == 0) continue;
      const ImagePoint p{(c + 0.5) * paint.photo_per_cell, (r + 0.5) * paint.photo_per_cell};
      if (ground.ground_from_image.depth(p) * ground.ground_from_image.depth({photo.width / 2.0, static_cast<double>(photo.height)}) <= 0) continue;
      if (length(ground.ground_from_image(p) - ground.ground_from_image({photo.width / 2.0, static_cast<double>(photo.height)})) > settings.farthest_mm) continue;
      reachable.at<uchar>(r, c) = 255;
    }
  }
  if (!ground.sheet.empty()) {
    std::vector<cv::Point> ring;
    for (const auto& p : ground.sheet) {
      ring.emplace_back(static_cast<int>(p.x / paint.photo_per_cell), static_cast<int>(p.y / paint.photo_per_cell));
    }
    cv::fillPoly(reachable, std::vector<std::vector<cv::Point>>{ring}, cv::Scalar(0));
  }

  std::vector<Piece> pieces;
  for (int f = 1; f <= 6; ++f) {
    const cv::Mat mine = reachable & (families == f);
    cv::Mat ids, stats, middles;
    const int count = cv::connectedComponentsWithStats(mine, ids, stats, middles, 8, CV_32S);
    for (int i = 1; i < count; ++i) {
      const int* s = stats.ptr<int>(i);
      if (s[cv::CC_STAT_AREA] < settings.fewest_cells) continue;
      Piece piece;
      piece.box = {s[cv::CC_STAT_LEFT], s[cv::CC_STAT_TOP], s[cv::CC_STAT_WIDTH], s[cv::CC_STAT_HEIGHT]};
      piece.mask = ids(piece.box) == i;
      double highest = 0;
      cv::minMaxLoc(paint.footprint(piece.box), nullptr, &highest, nullptr, nullptr, piece.mask);
      if (highest < settings.seed_above) continue;
      const cv::Mat labels = label(piece.box);
      for (int r = 0; r < piece.box.height; ++r) {
        for (int c = 0; c < piece.box.width; ++c) {
          if (piece.mask.at<uchar>(r, c) != 0) piece.votes[labels.at<uchar>(r, c)] += 1;
        }
      }
      piece.votes[0] = 0;
      const double total = std::max(1.0, std::accumulate(piece.votes.begin(), piece.votes.end(), 0.0));
      for (double& v : piece.votes) v /= total;
      piece.contrast = contrast_of(paint, piece.box, piece.mask);
      const ImagePoint middle{(middles.at<double>(i, 0) + 0.5) * paint.photo_per_cell,
                              (middles.at<double>(i, 1) + 0.5) * paint.photo_per_cell};
      piece.middle = ground.ground_from_image(middle);
      const GroundPixel pixel = ground_pixel(ground, middle);
      piece.cell_mm = std::max(pixel.across_mm, pixel.along_mm) * paint.photo_per_cell;
      // the network's map ends a cell or two before the photo does
      piece.at_border = piece.box.x <= 1 || piece.box.y <= 1 || piece.box.br().x >= painted.cols - 1 ||
                        piece.box.br().y >= painted.rows - 1;
      pieces.push_back(std::move(piece));
    }
  }
  return pieces;
}

}  // namespace lotwear
