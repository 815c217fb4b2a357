#include "overlap/seen_again.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>
#include <numeric>
#include <opencv2/imgproc.hpp>
#include <set>
#include <tuple>
#include <utility>

#include "base/parallel.hpp"
#include "ground/walk.hpp"
#include "overlap/same_ground.hpp"

namespace lotwear {
namespace {

constexpr double kMinutes = 20;         // somebody may come back for a second look
constexpr double kMinutesAlone = 4;     // where no place is known
constexpr double kMetres = 12;          // between two places from which one spot is seen
constexpr double kPlaceErrorM = 8;      // of a place that does not tell its own
constexpr std::size_t kNeighbours = 3;  // in the list, where neither time nor place is known
constexpr std::size_t kMostPairs = 10;  // a photo, nearest in time first

double metres_between(const Position& a, const Position& b) {
  constexpr double kMetresADegree = 111'320;
  const double north = (b.lat - a.lat) * kMetresADegree,
               east = (b.lon - a.lon) * kMetresADegree * std::cos(a.lat * std::numbers::pi / 180);
  return std::hypot(north, east);
}

// --- outlines of two photos on one ground, cell by cell -----------------------------------------------------------

constexpr double kCellMm = 20;
constexpr double kMostCells = 4000;  // a side; what is larger is no marking

struct Cells {
  GroundPoint origin;
  cv::Size size;
};
Cells cells_about(const std::vector<GroundRing>& rings) {
  double left = 1e30, top = 1e30, right = -1e30, bottom = -1e30;
  for (const GroundRing& ring : rings) {
    for (const GroundPoint& p : ring)
      left = std::min(left, p.x), right = std::max(right, p.x), top = std::min(top, p.y),
      bottom = std::max(bottom, p.y);
  }
  const auto count = [](double mm) { return static_cast<int>(std::clamp(std::ceil(mm / kCellMm), 1.0, kMostCells)); };
  return {{left, top}, {count(right - left), count(bottom - top)}};
}
GroundPoint middle_of(const Cells& cells, int row, int col) {
  return cells.origin + GroundPoint{col + 0.5, row + 0.5} * kCellMm;
}
cv::Mat filled(const Cells& cells, const std::vector<GroundRing>& rings) {
  constexpr int kShift = 4;  // sub-cell bits of fillPoly
  cv::Mat in(cells.size, CV_8U, cv::Scalar(0));
  for (const GroundRing& ring : rings) {
    std::vector<cv::Point> points;
    for (const GroundPoint& p : ring) {
      const GroundPoint q = (p - cells.origin) * (1 / kCellMm);
      points.emplace_back(static_cast<int>(std::lround((q.x - 0.5) * (1 << kShift))),
                          static_cast<int>(std::lround((q.y - 0.5) * (1 << kShift))));
    }
    cv::fillPoly(in, std::vector<std::vector<cv::Point>>{points}, cv::Scalar(1), cv::LINE_8, kShift);
  }
  return in;
}
bool shows(const SeenPhoto& photo, GroundPoint at) {
  if (!(photo.image_from_ground.depth(at) > 0)) return false;
  const ImagePoint p = photo.image_from_ground(at);
  return p.x >= 0 && p.y >= 0 && p.x <= photo.size.width && p.y <= photo.size.height;
}

std::vector<GroundRing> mapped(const GroundFromGround& map, const std::vector<GroundRing>& rings) {
  std::vector<GroundRing> moved;
  for (const GroundRing& ring : rings) {
    for (const GroundPoint& p : ring) {
      if (!(map.depth(p) > 0)) return {};  // beyond the other photo's horizon
    }
    moved.push_back(map(ring));
  }
  return moved;
}

/// How far two outlines cover each other where both photos look; 0 when what is seen by both is next to nothing.
double covered(const SeenPhoto& first, const std::vector<GroundRing>& a, const SeenPhoto& second,
               const std::vector<GroundRing>& b, const GroundFromGround& second_from_first) {
  constexpr double kSeenByBoth = 0.12;  // of the smaller one
  const std::vector<GroundRing> here = mapped(second_from_first.inverse(), b);
  if (here.empty()) return 0;
  std::vector<GroundRing> both_rings = a;
  both_rings.insert(both_rings.end(), here.begin(), here.end());
  const Cells cells = cells_about(both_rings);
  const cv::Mat in_a = filled(cells, a), in_b = filled(cells, here);
  double both = 0, either = 0;
  for (int r = 0; r < cells.size.height; ++r) {
    for (int c = 0; c < cells.size.width; ++c) {
      const bool is_a = in_a.at<unsigned char>(r, c) != 0, is_b = in_b.at<unsigned char>(r, c) != 0;
      if (!is_a && !is_b) continue;
      const GroundPoint at = middle_of(cells, r, c);
      if (!shows(first, at) || !shows(second, second_from_first(at))) continue;
      either += 1, both += is_a && is_b ? 1 : 0;
    }
  }
  const double smaller = std::min(cv::countNonZero(in_a), cv::countNonZero(in_b));
  return both > kSeenByBoth * smaller && either > 0 ? both / either : 0;
}

// --- who repeats whom ---------------------------------------------------------------------------------------------

struct Link {
  MarkingAt a, b;
  GroundFromGround b_from_a;
  double confidence = 0;
};

constexpr double kLeastCovered = 0.4;  // a line's width is a hand's, and the map is some millimetres off
std::vector<Link> links_between(const std::vector<SeenPhoto>& photos, std::size_t i, std::size_t j,
                                const SameGround& same) {
  std::vector<Link> links;
  for (std::size_t m = 0; m < photos[i].markings.size(); ++m) {
    for (std::size_t n = 0; n < photos[j].markings.size(); ++n) {
      const double share = covered(photos[i], photos[i].markings[m].rings, photos[j], photos[j].markings[n].rings,
                                   same.second_from_first);
      if (share < kLeastCovered) continue;
      // outlines off by half are the same paint all the same, if the ground surely is
      links.push_back(
          {{i, m}, {j, n}, same.second_from_first, same.confidence * (0.7 + 0.3 * std::min(1.0, share / 0.8))});
    }
  }
  return links;
}

/// Links surest first, each joining two groups that share no photo: two markings of one photo are two.
class Groups {
 public:
  explicit Groups(std::vector<Link> links) {
    std::stable_sort(links.begin(), links.end(), [](const Link& a, const Link& b) {
      return std::tuple(-a.confidence, a.a, a.b) < std::tuple(-b.confidence, b.a, b.b);
    });
    for (const Link& link : links) {
      const std::size_t a = group_of(link.a), b = group_of(link.b);
      if (a == b || share_a_photo(a, b)) continue;
      for (const MarkingAt& one : members_[b])
        at_[one] = a;
      members_[a].insert(members_[a].end(), members_[b].begin(), members_[b].end());
      members_[b].clear();
      used_.push_back(link);
    }
  }
  const std::vector<std::vector<MarkingAt>>& members() const { return members_; }
  const std::vector<Link>& used() const { return used_; }

 private:
  std::size_t group_of(const MarkingAt& one) {
    const auto [at, fresh] = at_.emplace(one, members_.size());
    if (fresh) members_.push_back({one});
    return at->second;
  }
  bool share_a_photo(std::size_t a, std::size_t b) const {
    return std::any_of(members_[a].begin(), members_[a].end(), [&](const MarkingAt& x) {
      return std::any_of(members_[b].begin(), members_[b].end(),
                         [&](const MarkingAt& y) { return x.photo == y.photo; });
    });
  }
  std::map<MarkingAt, std::size_t> at_;
  std::vector<std::vector<MarkingAt>> members_;
  std::vector<Link> used_;
};

/// The marking as a whole before its parts, what is sure before what is in doubt.
MarkingAt best_of(const std::vector<SeenPhoto>& photos, const std::vector<MarkingAt>& group) {
  return *std::min_element(group.begin(), group.end(), [&](const MarkingAt& x, const MarkingAt& y) {
    const SeenMarking &a = photos[x.photo].markings[x.marking], &b = photos[y.photo].markings[y.marking];
    return std::tuple(a.cut_off, a.in_doubt, a.doubt, x) < std::tuple(b.cut_off, b.in_doubt, b.doubt, y);
  });
}

/// From the best one's ground to that of each other one, over the links between them, and how sure all links are.
struct Reached {
  GroundFromGround from_best;
  double confidence = 1;
};
std::map<MarkingAt, Reached> reached_from(const MarkingAt& best, const std::vector<Link>& links) {
  std::map<MarkingAt, Reached> reached{{best, {}}};
  const auto after = [](const GroundFromGround& second, const GroundFromGround& first) {
    const auto &a = second.matrix(), &b = first.matrix();
    GroundFromGround::Matrix m{};
    for (std::size_t r = 0; r < 3; ++r) {
      for (std::size_t c = 0; c < 3; ++c)
        m[3 * r + c] = a[3 * r] * b[c] + a[3 * r + 1] * b[3 + c] + a[3 * r + 2] * b[6 + c];
    }
    return GroundFromGround(m);
  };
  for (bool more = true; more;) {
    more = false;
    for (const Link& link : links) {
      const auto a = reached.find(link.a), b = reached.find(link.b);
      if ((a == reached.end()) == (b == reached.end())) continue;
      more = true;
      if (b == reached.end())
        reached.emplace(link.b,
                        Reached{after(link.b_from_a, a->second.from_best), a->second.confidence * link.confidence});
      else
        reached.emplace(link.a, Reached{after(link.b_from_a.inverse(), b->second.from_best),
                                        b->second.confidence * link.confidence});
    }
  }
  return reached;
}

/// Extent of the cells along the direction in which the first outline is longest.
double length_along(const Cells& cells, const cv::Mat& in, const std::vector<GroundRing>& along) {
  cv::Mat points(0, 2, CV_64F);
  for (const GroundRing& ring : along) {
    for (const GroundPoint& p : ring)
      points.push_back(cv::Mat(cv::Matx12d(p.x, p.y)));
  }
  const cv::PCA pca(points, cv::Mat(), cv::PCA::DATA_AS_ROW, 1);
  const GroundPoint axis{pca.eigenvectors.at<double>(0, 0), pca.eigenvectors.at<double>(0, 1)};
  double least = 1e30, most = -1e30;
  for (int r = 0; r < in.rows; ++r) {
    for (int c = 0; c < in.cols; ++c) {
      if (in.at<unsigned char>(r, c) == 0) continue;
      const double at = dot(middle_of(cells, r, c), axis);
      least = std::min(least, at), most = std::max(most, at);
    }
  }
  return std::max(0.0, most - least) + kCellMm;
}

/// What other photos show of a marking beyond the edge of the one that shows it best.
std::optional<SeenInParts> parts_of(const std::vector<SeenPhoto>& photos, const MarkingAt& best,
                                    const std::map<MarkingAt, Reached>& reached) {
  constexpr double kWorthIt = 1.05;
  const SeenPhoto& photo = photos[best.photo];
  const std::vector<GroundRing>& own = photo.markings[best.marking].rings;
  if (!photo.markings[best.marking].cut_off) return std::nullopt;
  std::vector<GroundRing> all = own;
  std::vector<std::pair<MarkingAt, std::vector<GroundRing>>> others;
  for (const auto& [at, how] : reached) {
    if (at == best) continue;
    std::vector<GroundRing> rings = mapped(how.from_best.inverse(), photos[at.photo].markings[at.marking].rings);
    all.insert(all.end(), rings.begin(), rings.end());
    others.emplace_back(at, std::move(rings));
  }
  const Cells cells = cells_about(all);
  const cv::Mat alone = filled(cells, own);
  cv::Mat together = alone.clone();
  SeenInParts parts{best, {}, 1, 1};
  for (const auto& [at, rings] : others) {
    const cv::Mat in = filled(cells, rings);
    int added = 0;
    for (int r = 0; r < in.rows; ++r) {
      for (int c = 0; c < in.cols; ++c) {
        if (in.at<unsigned char>(r, c) == 0 || together.at<unsigned char>(r, c) != 0 ||
            shows(photo, middle_of(cells, r, c)))
          continue;
        together.at<unsigned char>(r, c) = 1;
        ++added;
      }
    }
    if (added > 0) parts.with.push_back(at);
  }
  const double before = cv::countNonZero(alone);
  if (before <= 0) return std::nullopt;
  parts.area = cv::countNonZero(together) / before;
  if (parts.area < kWorthIt) return std::nullopt;
  parts.length = std::max(1.0, length_along(cells, together, own) / length_along(cells, alone, own));
  return parts;
}

/// What goes along with the camera (a bonnet, shoes, a finger) lies at one place of both photos, and the rest agrees in
/// nothing. One picture in two files does so in everything.
bool goes_with_camera(const SeenPhoto& first, const SeenPhoto& second, const SameGround& same) {
  constexpr double kSamePlace = 0.004;  // of the photo's width; a hand does not come back to a tenth of a degree
  constexpr double kEverything = 0.3;   // of the spots
  std::vector<double> moved;
  for (const GroundPoint& at : first.look.at) {
    if (!(same.second_from_first.depth(at) > 0)) continue;
    const GroundPoint there = same.second_from_first(at);
    if (!shows(first, at) || !shows(second, there)) continue;
    const ImagePoint p = first.image_from_ground(at), q = second.image_from_ground(there);
    moved.push_back(std::hypot(p.x / first.size.width - q.x / second.size.width,
                               (p.y - q.y * first.size.width / second.size.width) / first.size.width));
  }
  if (moved.empty()) return false;
  const auto middle = moved.begin() + static_cast<std::ptrdiff_t>(moved.size() / 2);
  std::nth_element(moved.begin(), middle, moved.end());
  const double spots = static_cast<double>(std::min(first.look.at.size(), second.look.at.size()));
  return *middle < kSamePlace && same.agreeing < kEverything * spots;
}

/// Lengths on the second ground over those on the first, where their photos look.
double scale_between(const GroundFromGround& second_from_first, const GroundLook& first) {
  std::vector<double> scales;
  constexpr double kStep = 50;
  for (const GroundPoint& at : first.at) {
    if (!(second_from_first.depth(at) > 0)) continue;
    const GroundPoint o = second_from_first(at), x = second_from_first(at + GroundPoint{kStep, 0}) - o,
                      y = second_from_first(at + GroundPoint{0, kStep}) - o;
    scales.push_back(std::sqrt(std::abs(cross(x, y))) / kStep);
  }
  if (scales.empty()) return 1;
  const auto middle = scales.begin() + static_cast<std::ptrdiff_t>(scales.size() / 2);
  std::nth_element(scales.begin(), middle, scales.end());
  return *middle;
}

}  // namespace

std::vector<std::pair<std::size_t, std::size_t>> near_pairs(const std::vector<SeenPhoto>& photos) {
  struct Candidate {
    double apart_s;
    std::size_t i, j;
  };
  std::vector<Candidate> candidates;
  for (std::size_t i = 0; i < photos.size(); ++i) {
    for (std::size_t j = i + 1; j < photos.size(); ++j) {
      const SeenPhoto &a = photos[i], &b = photos[j];
      if (a.markings.empty() || b.markings.empty()) continue;
      const auto ta = a.taken ? seconds_of(*a.taken) : std::nullopt, tb = b.taken ? seconds_of(*b.taken) : std::nullopt;
      const bool placed = a.position && b.position;
      if (placed && metres_between(*a.position, *b.position) > kMetres + a.position->error_m.value_or(kPlaceErrorM) +
                                                                   b.position->error_m.value_or(kPlaceErrorM))
        continue;
      if (ta && tb) {
        const double apart = std::abs(*tb - *ta);
        if (apart <= 60 * (placed ? kMinutes : kMinutesAlone)) candidates.push_back({apart, i, j});
      } else if (placed || j - i <= kNeighbours) {
        candidates.push_back({static_cast<double>(j - i), i, j});
      }
    }
  }
  std::stable_sort(candidates.begin(), candidates.end(),
                   [](const Candidate& a, const Candidate& b) { return a.apart_s < b.apart_s; });
  std::vector<std::size_t> count(photos.size(), 0);
  std::vector<std::pair<std::size_t, std::size_t>> pairs;
  for (const Candidate& c : candidates) {
    if (count[c.i] >= kMostPairs || count[c.j] >= kMostPairs) continue;
    ++count[c.i], ++count[c.j];
    pairs.emplace_back(c.i, c.j);
  }
  std::sort(pairs.begin(), pairs.end());
  return pairs;
}

Overlaps find_overlaps(const std::vector<SeenPhoto>& photos, unsigned threads) {
  const std::vector<std::pair<std::size_t, std::size_t>> pairs = near_pairs(photos);
  std::vector<std::optional<SameGround>> same(pairs.size());
  parallel_for(pairs.size(), threads, [&](std::size_t k) {
    same[k] = same_ground(photos[pairs[k].first].look, photos[pairs[k].second].look);
  });
  Overlaps overlaps;
  std::vector<Link> links;
  for (std::size_t k = 0; k < pairs.size(); ++k) {
    if (!same[k]) continue;
    const auto [i, j] = pairs[k];
    if (goes_with_camera(photos[i], photos[j], *same[k])) continue;
    overlaps.spots.push_back({i, j, scale_between(same[k]->second_from_first, photos[i].look)});
    for (const Link& link : links_between(photos, i, j, *same[k]))
      links.push_back(link);
  }
  const Groups groups(std::move(links));
  for (const std::vector<MarkingAt>& group : groups.members()) {
    if (group.size() < 2) continue;
    const MarkingAt best = best_of(photos, group);
    const std::map<MarkingAt, Reached> reached = reached_from(best, groups.used());
    for (const auto& [at, how] : reached) {
      if (at != best) overlaps.again.push_back({at, best, how.confidence});
    }
    if (const auto parts = parts_of(photos, best, reached)) overlaps.parts.push_back(*parts);
  }
  std::sort(overlaps.again.begin(), overlaps.again.end(),
            [](const SeenAgain& a, const SeenAgain& b) { return a.which < b.which; });
  std::sort(overlaps.parts.begin(), overlaps.parts.end(),
            [](const SeenInParts& a, const SeenInParts& b) { return a.which < b.which; });
  return overlaps;
}

}  // namespace lotwear
