#include "measure/older_coat.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/core/utility.hpp>
#include <opencv2/imgproc.hpp>
#include <utility>
#include <vector>

namespace lotwear {
namespace {

using Way = cv::Vec3d;  // paint over pavement less one: which way and how far paint lies from bare pavement

/// One spot of the marking that is clearly not bare.
struct Spot3 {
  Way way;
  unsigned char clipped = 0;
  int at = 0;  // index on the plan
};

struct Seen {
  cv::Mat way;   // CV_32FC3, single pixels' noise taken out; edges stay
  cv::Mat core;  // CV_8U, 1: inside, clear of the outline
  std::vector<Spot3> spots;
  double noise = 0;  // nine tenths of bare pavement lie within this of it
  double far = 0;    // how far from bare a spot must lie to show its direction
};

Seen look_at_plan(const PlanView& plan, const cv::Mat& bare, const Ratio& paint, double core_mm) {
  std::array<cv::Mat, 3> planes;
  // a person waits for this in the review: as many cores as OpenCV may use
  cv::parallel_for_(cv::Range(0, 3), [&](const cv::Range& channels) {
    for (int k = channels.start; k < channels.end; ++k) {
      cv::Mat over(plan.light.size(), CV_32F);
      for (int r = 0; r < plan.light.rows; ++r) {
        const auto *light = plan.light.ptr<cv::Vec3f>(r), *b = bare.ptr<cv::Vec3f>(r);
        auto* out = over.ptr<float>(r);
        for (int c = 0; c < plan.light.cols; ++c)
          out[c] = std::min(20.0F, light[c][k] / std::max(1e-4F, b[c][k])) - 1;
      }
      cv::medianBlur(over, planes[static_cast<std::size_t>(k)], 5);
    }
  });
  Seen seen;
  cv::merge(planes.data(), planes.size(), seen.way);
  seen.core = cv::Mat::zeros(plan.light.size(), CV_8U);
  std::vector<double> beside;
  for (int r = 0; r < plan.light.rows; ++r) {
    for (int c = 0; c < plan.light.cols; ++c) {
      if (plan.ours.at<unsigned char>(r, c) != 0 && plan.inside_mm.at<float>(r, c) > static_cast<float>(core_mm))
        seen.core.at<unsigned char>(r, c) = 1;
      else if (plan.beside.at<unsigned char>(r, c) != 0 && (r + c) % 3 == 0)
        beside.push_back(cv::norm(seen.way.at<cv::Vec3f>(r, c)));
    }
  }
  if (beside.size() < 50) return seen;
  const auto at = beside.begin() + static_cast<std::ptrdiff_t>(0.9 * static_cast<double>(beside.size() - 1));
  std::nth_element(beside.begin(), at, beside.end());
  seen.noise = *at;
  seen.far = std::max(0.35 * cv::norm(Way(paint[0] - 1, paint[1] - 1, paint[2] - 1)), 1.3 * seen.noise);
  for (int r = 0; r < plan.light.rows; ++r) {
    for (int c = 0; c < plan.light.cols; ++c) {
      const Way way = seen.way.at<cv::Vec3f>(r, c);
      if (seen.core.at<unsigned char>(r, c) != 0 && cv::norm(way) > seen.far)
        seen.spots.push_back({way, plan.clipped.at<unsigned char>(r, c), r * plan.light.cols + c});
    }
  }
  return seen;
}

/// A few thousand of many, evenly.
template <class T>
std::vector<T> some_of(const std::vector<T>& all, std::size_t most) {
  const std::size_t stride = std::max<std::size_t>(1, all.size() / most);
  std::vector<T> some;
  for (std::size_t i = stride / 2; i < all.size(); i += stride)
    some.push_back(all[i]);
  return some;
}

struct Gathered {
  Way at{0, 0, 0};
  double count = 0;
};
/// The place where most points gather: climbs from many of them.
Gathered densest(const std::vector<Way>& points, double radius) {
  Gathered best;
  for (const Way& start : some_of(points, 70)) {
    Way at = start;
    for (int turn = 0; turn < 12; ++turn) {
      Way sum(0, 0, 0);
      double n = 0;
      for (const Way& p : points) {
        const double d2 = (p - at).dot(p - at) / (radius * radius);
        if (d2 < 1) sum += p * (1 - d2), n += 1 - d2;
      }
      if (n <= 0) break;
      const Way next = sum * (1 / n);
      const bool still = cv::norm(next - at) < 0.02 * radius;
      at = next;
      if (still) break;
    }
    double count = 0;
    for (const Way& p : points)
      count += cv::norm(p - at) < radius ? 1 : 0;
    if (count > best.count) best = {at, count};
  }
  return best;
}

/// A paint's direction from bare pavement, and how far whole paint lies along it.
struct Coat {
  Way direction{0, 0, 0};
  double reach = 0;
  std::array<bool, 3> known{true, true, true};  // channels that are not at the top of the scale
};

/// By how much a spot misses a coat's line, over its own distance from bare; a clipped channel may be any brighter.
Way miss_of(const Spot3& spot, const Coat& coat) {
  std::array<bool, 3> counts = coat.known;
  Way miss(0, 0, 0);
  double along = 0;
  for (int turn = 0; turn < 3; ++turn) {
    double up = 0, down = 0;
    for (int k = 0; k < 3; ++k) {
      if (!counts[static_cast<std::size_t>(k)]) continue;
      up += spot.way[k] * coat.direction[k], down += coat.direction[k] * coat.direction[k];
    }
    if (down > 1e-6) along = std::clamp(up / down, 0.0, 1.3 * coat.reach);
    for (int k = 0; k < 3; ++k) {
      const auto i = static_cast<std::size_t>(k);
      const double off = spot.way[k] - along * coat.direction[k];
      const bool open = ((spot.clipped >> k) & 1) == 0;
      counts[i] = coat.known[i] && (open || off > 0);
      miss[k] = counts[i] ? off : 0;
    }
  }
  double whole = 0;
  for (int k = 0; k < 3; ++k)
    whole += coat.known[static_cast<std::size_t>(k)] ? spot.way[k] * spot.way[k] : 0;
  return miss * (1 / std::max(1e-3, std::sqrt(whole)));
}

constexpr double kValley = 0.75;   // between two coats' colours fewer spots lie than this share of the rarer one's peak
constexpr double kOnePaint = 0.1;  // directions of one paint scatter by less than this, radians

std::optional<Coat> main_coat(const Seen& seen) {
  std::vector<Spot3> open;
  for (const Spot3& s : seen.spots) {
    if (s.clipped == 0) open.push_back(s);
  }
  const bool enough = open.size() > std::max<std::size_t>(200, seen.spots.size() / 10);
  std::vector<Way> ways;
  for (const Spot3& s : some_of(enough ? open : seen.spots, 3000))
    ways.push_back(s.way * (1 / cv::norm(s.way)));
  const Gathered most = densest(ways, kOnePaint);
  if (most.count < 30) return std::nullopt;
  Coat coat;
  coat.direction = most.at * (1 / cv::norm(most.at));
  std::vector<double> along;
  std::array<double, 3> clipped{};
  for (const Spot3& s : seen.spots) {
    if (cv::norm(s.way * (1 / cv::norm(s.way)) - coat.direction) > kOnePaint) continue;
    along.push_back(s.way.dot(coat.direction));
    for (std::size_t k = 0; k < 3; ++k)
      clipped[k] += (s.clipped >> k) & 1;
  }
  if (along.size() < 100) return std::nullopt;
  int known = 0;
  for (std::size_t k = 0; k < 3; ++k)
    known += (coat.known[k] = clipped[k] < 0.5 * static_cast<double>(along.size())) ? 1 : 0;
  if (known < 2) return std::nullopt;  // all but one at the top of the scale: there is no colour to compare
  const auto at = along.begin() + static_cast<std::ptrdiff_t>(0.95 * static_cast<double>(along.size() - 1));
  std::nth_element(along.begin(), at, along.end());
  coat.reach = *at;
  return coat;
}

/// Where on the way from the one coat (0) to the other (1) each spot's colour lies; far off it: nothing.
struct Split {
  std::vector<std::optional<double>> place;
  double share = 0;   // of the spots on the other's side
  double valley = 1;  // lowest count between the two over the lower peak
};

std::optional<Split> second_coat(const Seen& seen, const Coat& coat) {
  std::vector<Way> miss(seen.spots.size());
  cv::parallel_for_(cv::Range(0, static_cast<int>(miss.size())), [&](const cv::Range& part) {
    for (int i = part.start; i < part.end; ++i)
      miss[static_cast<std::size_t>(i)] = miss_of(seen.spots[static_cast<std::size_t>(i)], coat);
  });
  std::vector<double> own;
  for (const Way& m : some_of(miss, 20000)) {
    if (cv::norm(m) < 0.12) own.push_back(cv::norm(m));
  }
  double scatter = 0.05;
  if (!own.empty()) {
    const auto mid = own.begin() + static_cast<std::ptrdiff_t>(own.size() / 2);
    std::nth_element(own.begin(), mid, own.end());
    scatter = *mid;
  }
  std::vector<Way> others;
  for (const Way& m : miss) {
    if (cv::norm(m) > std::max(0.06, 2.5 * scatter)) others.push_back(m);
  }
  if (others.size() < std::max<std::size_t>(100, miss.size() / 100)) return std::nullopt;
  const Way other = densest(some_of(others, 2500), std::max(0.08, 2 * scatter)).at;
  const double apart = cv::norm(other);
  Split split;
  constexpr int kBins = 22;
  std::array<double, kBins> bins{};
  split.place.resize(miss.size());
  for (std::size_t i = 0; i < miss.size(); ++i) {
    const double t = miss[i].dot(other) / (apart * apart);
    if (cv::norm(miss[i] - other * t) > std::max(0.5 * apart, 0.06)) continue;
    split.place[i] = t;
    split.share += t > 0.5 ? 1.0 / static_cast<double>(miss.size()) : 0;
    const int bin = static_cast<int>(std::floor((t + 0.75) * 8));
    if (bin >= 0 && bin < kBins) bins[static_cast<std::size_t>(bin)] += 1;
  }
  const auto smooth = [&](int i) {
    const auto at = [&](int k) { return k >= 0 && k < kBins ? bins[static_cast<std::size_t>(k)] : 0.0; };
    return 0.25 * at(i - 1) + 0.5 * at(i) + 0.25 * at(i + 1);
  };
  const auto bin_of = [](double t) { return static_cast<int>(std::floor((t + 0.75) * 8)); };
  double one = 0, two = 0, between = 1e30;
  for (int i = bin_of(-0.3); i <= bin_of(0.3); ++i)
    one = std::max(one, smooth(i));
  for (int i = bin_of(0.7); i <= bin_of(1.3); ++i)
    two = std::max(two, smooth(i));
  for (int i = bin_of(0.26); i <= bin_of(0.74); ++i)
    between = std::min(between, smooth(i));
  split.valley = between / std::max(1e-9, std::min(one, two));
  return split;
}

/// Where a spot that is half the one coat and half the other lies between them: nearer to the brighter one.
double halfway(const Seen& seen, const Coat& coat, const Split& split) {
  std::vector<double> there;
  for (std::size_t i = 0; i < seen.spots.size(); ++i) {
    if (split.place[i] && *split.place[i] > 0.8) there.push_back(cv::norm(seen.spots[i].way));
  }
  if (there.empty()) return 0.5;
  const auto at = there.begin() + static_cast<std::ptrdiff_t>(0.75 * static_cast<double>(there.size() - 1));
  std::nth_element(there.begin(), at, there.end());
  return std::clamp(*at / (*at + coat.reach), 0.25, 0.75);
}

cv::Mat grown(const cv::Mat& mask, int reach) {
  cv::Mat wider;
  cv::dilate(mask, wider, cv::getStructuringElement(cv::MORPH_RECT, {2 * reach + 1, 2 * reach + 1}));
  return wider;
}

double share_of(const cv::Mat& part, const cv::Mat& whole) {
  return cv::countNonZero(part & whole) / std::max(1.0, static_cast<double>(cv::countNonZero(whole)));
}

/// Patches as solid and as sharply bordered as a second coat's are.
bool ends_like_a_coat(const cv::Mat& first, const cv::Mat& second, const cv::Mat& between, double blur) {
  cv::Mat solid;
  cv::morphologyEx(second, solid, cv::MORPH_OPEN, cv::Mat::ones(5, 5, CV_8U));
  if (share_of(solid, second) < 0.5) return false;
  const double border = cv::countNonZero(grown(second, 1) & first),
               width = cv::countNonZero(between) / std::max(1.0, border);
  // Two coats that hardly touch are not one above the other.
  return border > 0.02 * cv::countNonZero(second) && width < 3.5 + 2.2 * blur;
}

Way mean_way(const Seen& seen, const std::vector<unsigned char>& side, unsigned char which) {
  // The upper half: patches' rims are part pavement.
  std::vector<std::pair<double, std::size_t>> by_reach;
  for (std::size_t i = 0; i < side.size(); ++i) {
    if (side[i] == which) by_reach.emplace_back(cv::norm(seen.spots[i].way), i);
  }
  std::sort(by_reach.begin(), by_reach.end());
  Way sum(0, 0, 0);
  double n = 0;
  for (std::size_t i = by_reach.size() / 2; i < by_reach.size(); ++i)
    sum += seen.spots[by_reach[i].second].way, n += 1;
  return sum * (1 / std::max(1.0, n));
}

/// Chance that the second of two coats is the older one. `bare_within`: what lies that near to bare pavement is bare.
double chance_second_is_older(const Seen& seen, const cv::Mat& first, const cv::Mat& second, double bare_within) {
  cv::Mat bare = cv::Mat::zeros(seen.core.size(), CV_8U);
  for (int r = 0; r < bare.rows; ++r) {
    for (int c = 0; c < bare.cols; ++c) {
      if (seen.core.at<unsigned char>(r, c) != 0 && cv::norm(seen.way.at<cv::Vec3f>(r, c)) < bare_within)
        bare.at<unsigned char>(r, c) = 1;
    }
  }
  const cv::Mat beside_bare = grown(bare, 3);
  const double larger = std::log((cv::countNonZero(first) + 1.0) / (cv::countNonZero(second) + 1.0));
  const double in_chips = std::log((share_of(beside_bare, second) + 0.02) / (share_of(beside_bare, first) + 0.02));
  // Where next to nothing is bare, or bare pavement cannot be told from the fainter coat, the borders say nothing.
  const double tells = bare_within < seen.noise ? 0 : std::min(1.0, share_of(bare, seen.core) / 0.04);
  return 1 / (1 + std::exp(-1.5 * (larger + tells * in_chips)));
}

double clipped_share(const Seen& seen, const std::vector<unsigned char>& side, unsigned char which) {
  double all = 0, clipped = 0;
  for (std::size_t i = 0; i < side.size(); ++i) {
    if (side[i] != which) continue;
    all += 1, clipped += seen.spots[i].clipped != 0 ? 1 : 0;
  }
  return clipped / std::max(1.0, all);
}

/// Two coats as they lie on the plan.
struct Pair {
  cv::Mat first, second;            // CV_8U
  std::vector<unsigned char> side;  // of the spots; empty where the maps alone were made
};

std::optional<Pair> two_coats(const Seen& seen, double blur) {
  if (seen.spots.size() < 400) return std::nullopt;
  const std::optional<Coat> coat = main_coat(seen);
  if (!coat) return std::nullopt;
  const std::optional<Split> split = second_coat(seen, *coat);
  if (!split || split->share < 0.012 || split->valley > kValley) return std::nullopt;
  Pair pair{cv::Mat::zeros(seen.core.size(), CV_8U), cv::Mat::zeros(seen.core.size(), CV_8U), {}};
  cv::Mat between = cv::Mat::zeros(seen.core.size(), CV_8U);
  const double middle = halfway(seen, *coat, *split);
  for (std::size_t i = 0; i < seen.spots.size(); ++i) {
    const auto at = static_cast<std::size_t>(seen.spots[i].at);
    const bool there = split->place[i] && *split->place[i] > middle;
    pair.side.push_back(there ? 2 : 1);
    (there ? pair.second : pair.first).data[at] = 1;
    if (split->place[i] && *split->place[i] > 0.2 && *split->place[i] < 0.8) between.data[at] = 1;
  }
  if (!ends_like_a_coat(pair.first, pair.second, between, blur)) return std::nullopt;
  // Where the one is at the top of the scale and the other is not, light may have split one paint in two.
  if (std::abs(clipped_share(seen, pair.side, 1) - clipped_share(seen, pair.side, 2)) > 0.5 &&
      split->valley > 0.6 * kValley)
    return std::nullopt;
  return pair;
}

/// Red or blue over white: the white in the chips was taken for the paint, and the coat itself lies too near to bare
/// pavement to count beside it. Worn white would lie there too, but on the way to white; shade is never brighter than
/// bare pavement.
std::optional<Pair> darker_coat_over_bright(const Seen& seen, const Way& bright, const cv::Size& size) {
  constexpr double kLeastShare = 0.3, kOtherWay = 0.3, kClearlyPainted = 0.8, kSaturated = 0.3;
  const double near = std::max(1.5 * seen.noise, 0.1 * cv::norm(bright)), far = 0.25 * cv::norm(bright);
  Pair pair{cv::Mat::zeros(size, CV_8U), cv::Mat::zeros(size, CV_8U), {}};
  Way sum(0, 0, 0);
  double all = 0, dark = 0;
  for (int r = 0; r < size.height; ++r) {
    for (int c = 0; c < size.width; ++c) {
      if (seen.core.at<unsigned char>(r, c) == 0) continue;
      all += 1;
      const Way way = seen.way.at<cv::Vec3f>(r, c);
      const double d = cv::norm(way);
      if (d <= near) continue;
      const bool to_bright = way.dot(bright) > std::cos(kOtherWay) * d * cv::norm(bright);
      if (to_bright && d > far) pair.second.at<unsigned char>(r, c) = 1;
      if (to_bright) continue;
      pair.first.at<unsigned char>(r, c) = 1;
      dark += 1, sum += way;
    }
  }
  if (dark < std::max(1.0, kLeastShare * all)) return std::nullopt;
  const Way mean = sum * (1 / dark);
  const double most = std::max({mean[0], mean[1], mean[2]}), least = std::min({mean[0], mean[1], mean[2]});
  if (most < kClearlyPainted || least > kSaturated * most) return std::nullopt;
  return pair;
}

Way mean_way_on(const Seen& seen, const cv::Mat& mask) {
  const cv::Scalar mean = cv::mean(seen.way, mask);
  return {mean[0], mean[1], mean[2]};
}

/// Film and wear move paint toward black or toward the pavement. What they cannot do shows in channels that are never
/// at the top of the scale: another direction, or a coat that is duller as a whole and yet brighter there.
bool differ_where_open(Way one, Way two, const std::array<bool, 3>& open) {
  if (cv::norm(one) > cv::norm(two)) std::swap(one, two);
  double brighter = 0;
  for (int k = 0; k < 3; ++k) {
    if (open[static_cast<std::size_t>(k)])
      brighter = std::max(brighter, (one[k] - two[k]) / cv::norm(two));
    else
      one[k] = two[k] = 0;
  }
  if (brighter > 0.05) return true;
  const double lengths = cv::norm(one) * cv::norm(two);
  return lengths > 1e-6 && std::acos(std::clamp(one.dot(two) / lengths, -1.0, 1.0)) > 0.07;
}

/// Two coats by all channels as they are, where those that are never at the top of the scale tell them apart too.
std::optional<Pair> two_coats_as_clipped(const Seen& seen, double blur) {
  Seen plain = seen;
  std::array<std::size_t, 3> clipped{};
  for (Spot3& s : plain.spots) {
    for (std::size_t k = 0; k < 3; ++k)
      clipped[k] += (s.clipped >> k) & 1;
    s.clipped = 0;
  }
  if (clipped == std::array<std::size_t, 3>{}) return std::nullopt;  // nothing else than was seen already
  std::optional<Pair> pair = two_coats(plain, blur);
  if (!pair) return std::nullopt;
  const std::size_t few = seen.spots.size() / 50;
  return differ_where_open(mean_way(seen, pair->side, 1), mean_way(seen, pair->side, 2),
                           {clipped[0] <= few, clipped[1] <= few, clipped[2] <= few})
             ? pair
             : std::nullopt;
}

}  // namespace

std::optional<OlderCoat> find_older_coat(const PlanView& plan, const cv::Mat& bare, const Ratio& paint, double core_mm,
                                         double blur_px, bool broken) {
  // On a painted field what looks like a second coat is the field itself.
  if (plan.on_field) return std::nullopt;
  const Seen seen = look_at_plan(plan, bare, paint, core_mm);
  const double blur = std::clamp(blur_px, 0.4, 3.0) * plan.photo_px_mm / plan.mm_per_pixel;
  std::optional<Pair> pair = two_coats(seen, blur);
  // In even light a channel is at the top of the scale for the paint's sake and may count, where the others agree.
  if (!pair && !broken) pair = two_coats_as_clipped(seen, blur);
  if (!pair) pair = darker_coat_over_bright(seen, Way(paint[0] - 1, paint[1] - 1, paint[2] - 1), plan.light.size());
  if (!pair) return std::nullopt;
  const bool by_spots = !pair->side.empty();
  const Way one = by_spots ? mean_way(seen, pair->side, 1) : mean_way_on(seen, pair->first),
            two = by_spots ? mean_way(seen, pair->side, 2) : mean_way_on(seen, pair->second);
  const double chance = chance_second_is_older(seen, pair->first, pair->second,
                                               std::min(0.85 * seen.far, 0.3 * std::min(cv::norm(one), cv::norm(two))));
  const bool as_found = chance >= 0.5;
  const cv::Mat &top = as_found ? pair->first : pair->second, &old = as_found ? pair->second : pair->first;
  const Way way = as_found ? two : one;
  OlderCoat older;
  older.swapped = std::min(chance, 1 - chance);
  older.over_pavement = {1 + way[0], 1 + way[1], 1 + way[2]};
  // Thin rims of a patch that are part pavement go with the coat they border on.
  cv::Mat to_top, to_old;
  cv::distanceTransform(1 - top, to_top, cv::DIST_L2, cv::DIST_MASK_3);
  cv::distanceTransform(1 - old, to_old, cv::DIST_L2, cv::DIST_MASK_3);
  const double whole = std::max(1e-6, way.dot(way));
  older.map = cv::Mat::zeros(plan.light.size(), CV_32F);
  double in = 0, got = 0;
  for (int r = 0; r < plan.light.rows; ++r) {
    for (int c = 0; c < plan.light.cols; ++c) {
      if (plan.ours.at<unsigned char>(r, c) == 0) continue;
      const bool core = seen.core.at<unsigned char>(r, c) != 0;
      in += core ? 1 : 0;
      const float d = to_old.at<float>(r, c);
      if (d > 3 || d >= to_top.at<float>(r, c)) continue;
      const double cover = std::clamp(Way(seen.way.at<cv::Vec3f>(r, c)).dot(way) / whole, 0.0, 1.0);
      older.map.at<float>(r, c) = static_cast<float>(cover);
      got += core ? cover : 0;
    }
  }
  older.share = in > 0 ? got / in : 0;
  if (older.share < 0.008) return std::nullopt;
  return older;
}

}  // namespace lotwear
