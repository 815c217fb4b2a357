#include "marking/pieces.hpp"

#include <algorithm>
#include <numeric>
#include <opencv2/imgproc.hpp>

#include "marking/grow_mask.hpp"

namespace lotwear {

namespace {

/// The kinds' shares at every cell of the layer maps; `none` is left out, it says only that the network was unsure.
std::vector<cv::Mat> kinds_at_cells(const PaintMap& paint) {
  std::vector<cv::Mat> shares(kFinderKinds);
  // kind cells are coarser by a whole factor; sizes may differ by the last partial cell
  const double scale = paint.photo_per_kind_cell / paint.photo_per_cell;
  const cv::Matx23d up(1 / scale, 0, 0.5 / scale - 0.5, 0, 1 / scale, 0.5 / scale - 0.5);
  for (int k = 1; k < kFinderKinds; ++k) {
    cv::warpAffine(paint.kinds[static_cast<std::size_t>(k)], shares[static_cast<std::size_t>(k)], up, paint.footprint.size(),
                   cv::INTER_LINEAR | cv::WARP_INVERSE_MAP, cv::BORDER_REPLICATE);
  }
  return shares;
}

PaintContrast contrast_of(const PaintMap& paint, const cv::Rect& box, const cv::Mat& mask) {
  // paint: the cells the finder is surest of; pavement: a ring around the piece, wide enough to hold some in busy places
  const int reach = 10;
  const cv::Rect wide = cv::Rect(box.x - reach, box.y - reach, box.width + 2 * reach, box.height + 2 * reach) &
                        cv::Rect({0, 0}, paint.footprint.size());
  cv::Mat near(wide.size(), CV_8U, cv::Scalar(0));
  mask.copyTo(near(cv::Rect(box.tl() - wide.tl(), box.size())));
  const cv::Mat ring = grown_by_disc(near, 2 * reach + 1);
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

namespace {

ImagePoint middle_of(const Piece& piece, const PaintMap& paint) {
  const cv::Moments m = cv::moments(piece.mask, true);
  return {(piece.box.x + m.m10 / m.m00 + 0.5) * paint.photo_per_cell, (piece.box.y + m.m01 / m.m00 + 0.5) * paint.photo_per_cell};
}

/// What follows from the mask: colours, place, cell size on the ground.
void complete(Piece& piece, ImagePoint middle, const PaintMap& paint, const Ground& ground) {
  piece.contrast = contrast_of(paint, piece.box, piece.mask);
  piece.middle = ground.ground_from_image(middle);
  const GroundPixel pixel = ground_pixel(ground, middle);
  piece.cell_mm = std::max(pixel.across_mm, pixel.along_mm) * paint.photo_per_cell;
  piece.cells = cv::countNonZero(piece.mask);
  piece.coat = cv::mean(paint.top_coat(piece.box), piece.mask)[0] + cv::mean(paint.older_coat(piece.box), piece.mask)[0];
  // the network's map ends a cell or two before the photo does
  piece.at_border = piece.box.x <= 1 || piece.box.y <= 1 || piece.box.br().x >= paint.footprint.cols - 1 ||
                    piece.box.br().y >= paint.footprint.rows - 1;
}

}  // namespace

Piece united(const Piece& a, const Piece& b, const PaintMap& paint, const Ground& ground) {
  Piece both;
  both.box = a.box | b.box;
  both.mask = cv::Mat(both.box.size(), CV_8U, cv::Scalar(0));
  for (const Piece* part : {&a, &b}) {
    cv::Mat there = both.mask(cv::Rect(part->box.tl() - both.box.tl(), part->box.size()));
    there |= part->mask;
  }
  const double wa = a.cells, wb = b.cells;
  for (std::size_t k = 0; k < both.votes.size(); ++k) both.votes[k] = (a.votes[k] * wa + b.votes[k] * wb) / (wa + wb);
  complete(both, middle_of(both, paint), paint, ground);
  return both;
}

Piece part_of(const Piece& whole, const cv::Mat& mask, const PaintMap& paint, const Ground& ground) {
  Piece part;
  const cv::Mat own = whole.mask & mask;
  const cv::Rect box = cv::boundingRect(own);
  part.box = box + whole.box.tl();
  part.mask = own(box).clone();
  const std::vector<cv::Mat> kinds = kinds_at_cells(paint);
  for (std::size_t k = 1; k < kinds.size(); ++k) part.votes[k] = cv::mean(kinds[k](part.box), part.mask)[0];
  const double total = std::max(1e-6, std::accumulate(part.votes.begin(), part.votes.end(), 0.0));
  for (double& v : part.votes) v /= total;
  complete(part, middle_of(part, paint), paint, ground);
  return part;
}

FinderKind Piece::likely() const {
  return static_cast<FinderKind>(std::max_element(votes.begin(), votes.end()) - votes.begin());
}

std::vector<Piece> find_pieces(const PaintMap& paint, const Ground& ground, cv::Size photo, const PieceSettings& settings) {
  const std::vector<cv::Mat> kinds = kinds_at_cells(paint);
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

  const cv::Mat coat = paint.top_coat + paint.older_coat;
  std::vector<Piece> pieces;
  cv::Mat ids, stats, middles;
  const int count = cv::connectedComponentsWithStats(reachable, ids, stats, middles, 8, CV_32S);
  for (int i = 1; i < count; ++i) {
    const int* s = stats.ptr<int>(i);
    if (s[cv::CC_STAT_AREA] < settings.fewest_cells) continue;
    Piece piece;
    piece.box = {s[cv::CC_STAT_LEFT], s[cv::CC_STAT_TOP], s[cv::CC_STAT_WIDTH], s[cv::CC_STAT_HEIGHT]};
    piece.mask = ids(piece.box) == i;
    double highest = 0, most_coat = 0;
    cv::minMaxLoc(paint.footprint(piece.box), nullptr, &highest, nullptr, nullptr, piece.mask);
    cv::minMaxLoc(coat(piece.box), nullptr, &most_coat, nullptr, nullptr, piece.mask);
    if (highest < settings.seed_above || most_coat < settings.coat_above) continue;
    for (int k = 1; k < kFinderKinds; ++k) {
      piece.votes[static_cast<std::size_t>(k)] = cv::mean(kinds[static_cast<std::size_t>(k)](piece.box), piece.mask)[0];
    }
    const double total = std::max(1e-6, std::accumulate(piece.votes.begin(), piece.votes.end(), 0.0));
    for (double& v : piece.votes) v /= total;
    const ImagePoint middle{(middles.at<double>(i, 0) + 0.5) * paint.photo_per_cell,
                            (middles.at<double>(i, 1) + 0.5) * paint.photo_per_cell};
    complete(piece, middle, paint, ground);
    pieces.push_back(std::move(piece));
  }
  return pieces;
}

double gap_between(const Piece& a, const Piece& b, const PaintMap& paint, const Ground& ground) {
  // between the nearest mask cells, looked for on every third cell: enough to tell neighbours from strangers
  const auto points = [&](const Piece& piece) {
    std::vector<GroundPoint> found;
    for (int r = 0; r < piece.box.height; ++r) {
      for (int c = r % 3; c < piece.box.width; c += 3) {
        if (piece.mask.at<uchar>(r, c) == 0) continue;
        found.push_back(ground.ground_from_image({(piece.box.x + c + 0.5) * paint.photo_per_cell, (piece.box.y + r + 0.5) * paint.photo_per_cell}));
      }
    }
    if (found.size() > 300) {
      std::vector<GroundPoint> fewer;
      for (std::size_t i = 0; i < found.size(); i += found.size() / 300 + 1) fewer.push_back(found[i]);
      found = std::move(fewer);
    }
    return found;
  };
  constexpr double kRounding = 1 + 1e-9;   // squares are told apart by more than they are rounded
  double nearest = 1e12, square = nearest * nearest;
  const std::vector<GroundPoint> pa = points(a), pb = points(b);
  for (const GroundPoint& g : pa) {
    for (const GroundPoint& h : pb) {
      const double here = dot(g - h, g - h);
      if (here > square * kRounding) continue;
      nearest = std::min(nearest, length(g - h));
      square = std::min(square, here);
    }
  }
  return nearest;
}

GroundRing hull_on_ground(const Piece& piece, const PaintMap& paint, const Ground& ground) {
  std::vector<cv::Point> cells, hull;
  cv::findNonZero(piece.mask, cells);
  cv::convexHull(cells, hull);
  GroundRing ring;
  for (const cv::Point& c : hull) {
    ring.push_back(ground.ground_from_image({(piece.box.x + c.x + 0.5) * paint.photo_per_cell, (piece.box.y + c.y + 0.5) * paint.photo_per_cell}));
  }
  return ring;
}

}  // namespace lotwear
