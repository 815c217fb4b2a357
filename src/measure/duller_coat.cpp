#include "measure/duller_coat.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <opencv2/imgproc.hpp>
#include <vector>

namespace lotwear {
namespace {

constexpr float kPaint = 0.3F;        // of the usual paint; below it lies bare or nearly bare pavement
constexpr float kFlat = 0.1F;         // levels within 5 x 5 pixels of a flat spot differ by less
constexpr double kApart = 0.1;        // heaps nearer to the top coat drown in its own unevenness
constexpr double kDullest = 0.28;     // over the top coat; below lie thin remains and the rims of chips
constexpr double kBrightest = 0.86;   // over the top coat: an older coat has lost more than the top coat scatters
constexpr double kStep = 0.6;         // of the whole step; what rises by that within the photo's blur is sharp
constexpr double kSharpOfOne = 0.45;  // of one patch's border is sharp, or it is not looked at

/// What patches have to show, as one.
struct Wanted {
  double patches = 3;    // how many; without a heap, of equal size, that would weigh as much
  double area = 0.008;   // of the core
  double flat = 0.12;    // of the patches' area
  double sharp = 0.55;   // of their border
  double mottled = 2.5;  // pixel noise at most, over the top coat's; abraded paint has more
  double at_chips = 0;   // share of their area beside chips
};
// Levels that heap up apart from the top coat's speak for themselves, but shade makes heaps too: where it falls, chips
// have to tell. Where the top coat's own unevenness hides the heap, many patches at chips have to.
constexpr Wanted kOfAHeap{}, kOfAHeapInBrokenLight{3, 0.008, 0.12, 0.55, 2.5, 0.1},
    kWithoutHeap{8, 0.02, 0.12, 0.57, 1.7, 0.25};
constexpr double kAtChips = 2;        // times as much of the patches as of the top coat lies beside chips
constexpr double kOverRims = 4;       // the count of the level over the lowest between it and bare pavement
constexpr double kOverValley = 1.08;  // and a heap's over the lowest between it and the top coat

/// The part of the plan around the core, levels on it.
struct Levels {
  cv::Rect at;
  cv::Mat core;            // CV_8U, 1: inside, clear of the outline
  cv::Mat single;          // CV_32F, level of single pixels
  cv::Mat over_top;        // CV_32F, level without single pixels' noise, over the top coat's around
  cv::Mat even;            // CV_32F, the same, not over anything
  cv::Mat flat;            // CV_8U, 1: in the core and flat
  cv::Mat rise_x, rise_y;  // CV_32F, which way the level rises
  double pixels = 0;
};

cv::Mat grown(const cv::Mat& mask, int side) {
  cv::Mat wider;
  cv::dilate(mask, wider, cv::Mat::ones(side, side, CV_8U));
  return wider;
}

cv::Mat opened(const cv::Mat& mask) {
  cv::Mat solid;
  cv::morphologyEx(mask, solid, cv::MORPH_OPEN, cv::Mat::ones(3, 3, CV_8U));
  return solid;
}

/// Level of the top coat around every spot: the upper levels of blocks and of the blocks beside them, as a patch of
/// older coat may fill a block.
cv::Mat top_around(const cv::Mat& level, const cv::Mat& core) {
  constexpr int kBlock = 24;
  const int rows = (level.rows + kBlock - 1) / kBlock, cols = (level.cols + kBlock - 1) / kBlock;
  cv::Mat upper = cv::Mat::zeros(rows, cols, CV_32F), known = cv::Mat::zeros(rows, cols, CV_32F);
  std::vector<float> in;
  for (int br = 0; br < rows; ++br) {
    for (int bc = 0; bc < cols; ++bc) {
      in.clear();
      for (int r = br * kBlock; r < std::min(level.rows, (br + 1) * kBlock); ++r) {
        for (int c = bc * kBlock; c < std::min(level.cols, (bc + 1) * kBlock); ++c) {
          if (core.at<unsigned char>(r, c) != 0 && level.at<float>(r, c) > kPaint) in.push_back(level.at<float>(r, c));
        }
      }
      if (in.size() <= static_cast<std::size_t>(kBlock * kBlock / 8)) continue;
      const auto at = in.begin() + static_cast<std::ptrdiff_t>(0.7 * static_cast<double>(in.size() - 1));
      std::nth_element(in.begin(), at, in.end());
      upper.at<float>(br, bc) = *at;
      known.at<float>(br, bc) = 1;
    }
  }
  cv::Mat around, weight;
  cv::dilate(upper, around, cv::Mat::ones(3, 3, CV_8U));
  cv::GaussianBlur(around.mul(known), around, {}, 2.0);
  cv::GaussianBlur(known, weight, {}, 2.0);
  around /= cv::max(weight, 1e-3);
  cv::resize(around, around, {cols * kBlock, rows * kBlock}, 0, 0, cv::INTER_LINEAR);
  return cv::max(around(cv::Rect(0, 0, level.cols, level.rows)), static_cast<double>(kPaint));
}

Levels levels_of(const PlanView& plan, const cv::Mat& level, double core_mm, double blur) {
  constexpr int kMargin = 14;  // as far as steps are looked at across a border
  Levels levels;
  const cv::Mat whole = (plan.ours != 0) & (plan.inside_mm > core_mm);
  const cv::Rect box = cv::boundingRect(whole);
  if (box.empty()) return levels;
  levels.at = cv::Rect(box.x - kMargin, box.y - kMargin, box.width + 2 * kMargin, box.height + 2 * kMargin) &
              cv::Rect(0, 0, level.cols, level.rows);
  levels.core = whole(levels.at) / 255;
  levels.pixels = cv::countNonZero(levels.core);
  levels.single = cv::min(cv::max(level(levels.at), -0.5), 1.6);
  cv::medianBlur(levels.single, levels.even, 5);
  cv::divide(levels.even, top_around(levels.even, levels.core), levels.over_top);
  levels.over_top = cv::min(cv::max(levels.over_top, -0.3), 1.4);
  cv::Mat high, low;
  cv::dilate(levels.over_top, high, cv::Mat::ones(5, 5, CV_8U));
  cv::erode(levels.over_top, low, cv::Mat::ones(5, 5, CV_8U));
  levels.flat = levels.core & ((high - low < static_cast<double>(kFlat)) / 255);
  cv::Mat soft;
  cv::GaussianBlur(levels.single, soft, {}, std::max(0.8, 0.6 * blur));
  cv::Sobel(soft, levels.rise_x, CV_32F, 1, 0);
  cv::Sobel(soft, levels.rise_y, CV_32F, 0, 1);
  return levels;
}

/// A level below the top coat's that may be an older coat's.
struct Candidate {
  double at = 0, top = 0;       // over the top coat around
  double from = 0, valley = 0;  // lowest counts on either side
  bool heap = false;            // its count stands out; else it was tried at a venture
};

/// The highest heaps that stand clear of bare pavement and of the top coat, and a ladder of levels.
std::vector<Candidate> candidates_below_top(const Levels& levels) {
  constexpr int kBins = 86;
  constexpr double kFirst = -0.3, kWide = 0.02, kNone = 2e-5, kLadderFrom = 0.42;
  constexpr int kLadderStep = 4;
  const auto place = [](int bin) { return kFirst + kWide * (bin + 0.5); };
  cv::Mat counts = cv::Mat::zeros(1, kBins, CV_32F);
  for (int r = 0; r < levels.flat.rows; ++r) {
    for (int c = 0; c < levels.flat.cols; ++c) {
      if (levels.flat.at<unsigned char>(r, c) == 0) continue;
      const int bin = static_cast<int>((static_cast<double>(levels.over_top.at<float>(r, c)) - kFirst) / kWide);
      counts.at<float>(0, std::clamp(bin, 0, kBins - 1)) += static_cast<float>(1 / levels.pixels);
    }
  }
  cv::GaussianBlur(counts, counts, {}, 1.5, 1.5, cv::BORDER_CONSTANT);
  const auto count = [&](int bin) { return static_cast<double>(counts.at<float>(0, bin)); };
  int top = 0;
  for (int bin = 0; bin < kBins; ++bin) {
    if (place(bin) > 0.85 && place(bin) < 1.3 && (top == 0 || count(bin) > count(top))) top = bin;
  }
  const auto lowest = [&](int from, int to) {
    int least = from;
    for (int bin = from; bin <= to; ++bin)
      least = count(bin) < count(least) ? bin : least;
    return least;
  };
  const int bare = static_cast<int>((0.12 - kFirst) / kWide);
  const auto candidate = [&](int bin, int from, bool heap) {
    return Candidate{place(bin), place(top), place(from), place(lowest(bin, top)), heap};
  };
  std::vector<std::pair<double, Candidate>> heaps;
  std::vector<Candidate> all;
  for (int bin = bare + 1; bin < top; ++bin) {
    if (place(bin) < kDullest || place(bin) > std::min(place(top) - kApart, kBrightest * place(top))) continue;
    const int from = lowest(bare, bin);
    if (count(bin) < kOverRims * std::max(kNone, count(from))) continue;
    if (place(bin) > kLadderFrom && (top - bin) % kLadderStep == 0) all.push_back(candidate(bin, from, false));
    if (count(bin) >= count(bin - 1) && count(bin) > count(bin + 1) &&
        count(bin) >= kOverValley * std::max(kNone, count(lowest(bin, top))))
      heaps.emplace_back(count(bin), candidate(bin, from, true));
  }
  std::stable_sort(heaps.begin(), heaps.end(), [](const auto& a, const auto& b) { return a.first > b.first; });
  for (std::size_t i = 0; i < std::min<std::size_t>(3, heaps.size()); ++i)
    all.push_back(heaps[i].second);
  return all;
}

struct Patches {
  cv::Mat label;                           // CV_32S, 0: none
  std::vector<double> area, flat, beside;  // pixels of each, flat ones, ones beside chips
  std::vector<double> border, sharp;       // pixels of top coat at the border of each, those with a sharp step
};

cv::Mat between(const Levels& levels, double low, double high) {
  return levels.core & ((levels.over_top > low) & (levels.over_top < high)) / 255;
}

/// Across the border to the top coat the level rises within the blur by most of the step from heap to top.
void look_at_borders(const Levels& levels, const Candidate& coat, const cv::Mat& top_coat, double blur,
                     Patches& patches) {
  cv::Mat nearest;
  patches.label.convertTo(nearest, CV_32F);
  nearest = grown(nearest, 5);
  const auto reach = static_cast<float>(std::lround(blur + 1.2));
  const auto at = [&](int r, int c, float dr, float dc) {
    return static_cast<double>(levels.over_top.at<float>(
        std::clamp(static_cast<int>(std::lround(static_cast<float>(r) + dr)), 0, levels.core.rows - 1),
        std::clamp(static_cast<int>(std::lround(static_cast<float>(c) + dc)), 0, levels.core.cols - 1)));
  };
  for (int r = 0; r < levels.core.rows; ++r) {
    for (int c = 0; c < levels.core.cols; ++c) {
      const auto which = static_cast<std::size_t>(std::lround(nearest.at<float>(r, c)));
      if (which == 0 || top_coat.at<unsigned char>(r, c) == 0) continue;
      const float gx = levels.rise_x.at<float>(r, c), gy = levels.rise_y.at<float>(r, c),
                  steep = std::hypot(gx, gy) + 1e-6F;
      const float dr = reach * gy / steep, dc = reach * gx / steep;
      const double low = at(r, c, -dr, -dc);
      if (low <= kStep * coat.at) continue;  // a chip lies between
      patches.border[which] += 1;
      patches.sharp[which] += at(r, c, dr, dc) - low > kStep * (coat.top - coat.at) ? 1 : 0;
    }
  }
}

double noise_on(const Levels& levels, const cv::Mat& mask) {
  double sum = 0, n = 0;
  for (int r = 0; r < mask.rows; ++r) {
    for (int c = 0; c < mask.cols; ++c) {
      if (mask.at<unsigned char>(r, c) == 0 || levels.flat.at<unsigned char>(r, c) == 0) continue;
      const float even = levels.even.at<float>(r, c);
      sum += static_cast<double>(std::abs(levels.single.at<float>(r, c) - even) / std::max(0.2F, even));
      n += 1;
    }
  }
  return n > 10 ? sum / n : 1;
}

/// Share of the core in patches of this level that lie and end as an older coat's do; 0: too few do.
double share_like_a_coat(const Levels& levels, const Candidate& coat, double blur, bool broken) {
  const Wanted wanted = !coat.heap ? kWithoutHeap : broken ? kOfAHeapInBrokenLight : kOfAHeap;
  const double half = std::min(0.12, 0.5 * (coat.top - coat.at));
  Patches patches;
  const cv::Mat solid = opened(between(levels, coat.at - half, coat.at + half));
  const auto n = static_cast<std::size_t>(cv::connectedComponents(solid, patches.label, 4, CV_32S));
  const cv::Mat beside_chips = grown(opened(between(levels, -1, 0.45 * coat.at)), 9);
  const cv::Mat top_coat = between(levels, (coat.at + coat.top) / 2, 2);
  for (auto* counts : {&patches.area, &patches.flat, &patches.beside, &patches.border, &patches.sharp})
    counts->assign(n, 0);
  for (int r = 0; r < solid.rows; ++r) {
    for (int c = 0; c < solid.cols; ++c) {
      const auto which = static_cast<std::size_t>(patches.label.at<int>(r, c));
      if (which == 0) continue;
      patches.area[which] += 1;
      patches.flat[which] += levels.flat.at<unsigned char>(r, c);
      patches.beside[which] += beside_chips.at<unsigned char>(r, c);
    }
  }
  const auto at_chips = [&](std::size_t i) {
    return patches.area[i] >= 12 && patches.flat[i] >= 4 && patches.beside[i] > 0;
  };
  double most = 0;
  for (std::size_t i = 1; i < n; ++i)
    most += at_chips(i) ? patches.area[i] : 0;
  if (most < wanted.area * levels.pixels) return 0;  // borders take the longest to look at
  look_at_borders(levels, coat, top_coat, blur, patches);
  double area = 0, squares = 0, flat = 0, beside = 0, border = 0, sharp = 0, count = 0;
  std::vector<unsigned char> like(n, 0);
  for (std::size_t i = 1; i < n; ++i) {
    if (!at_chips(i) || patches.border[i] < 4 || patches.sharp[i] <= kSharpOfOne * patches.border[i]) continue;
    like[i] = 1, count += 1;
    area += patches.area[i], squares += patches.area[i] * patches.area[i];
    flat += patches.flat[i], beside += patches.beside[i];
    border += patches.border[i], sharp += patches.sharp[i];
  }
  const double as_equal = coat.heap ? count : area * area / std::max(1.0, squares);
  if (as_equal < wanted.patches || area < wanted.area * levels.pixels) return 0;
  if (flat < wanted.flat * area || sharp < wanted.sharp * border || beside < wanted.at_chips * area) return 0;
  const double top_beside = cv::countNonZero(top_coat & beside_chips) / std::max(1.0, 1.0 * cv::countNonZero(top_coat));
  if (beside < kAtChips * top_beside * area) return 0;
  cv::Mat patch(solid.size(), CV_8U, cv::Scalar(0));
  for (int r = 0; r < solid.rows; ++r) {
    for (int c = 0; c < solid.cols; ++c)
      patch.at<unsigned char>(r, c) = like[static_cast<std::size_t>(patches.label.at<int>(r, c))];
  }
  if (noise_on(levels, patch) > wanted.mottled * noise_on(levels, top_coat)) return 0;
  return area / levels.pixels;
}

/// Once such a coat is there, all solid patches between the lowest counts on either side of its heap are of it.
cv::Mat patches_of(const Levels& levels, const Candidate& coat) {
  cv::Mat label;
  const cv::Mat solid = opened(between(levels, std::max(coat.from, 0.5 * coat.at), (coat.at + coat.top) / 2));
  const auto n = static_cast<std::size_t>(cv::connectedComponents(solid, label, 4, CV_32S));
  std::vector<double> area(n, 0), of_it(n, 0);
  const double near = std::max(0.06, coat.valley - coat.at);
  for (int r = 0; r < solid.rows; ++r) {
    for (int c = 0; c < solid.cols; ++c) {
      const auto which = static_cast<std::size_t>(label.at<int>(r, c));
      area[which] += 1;
      if (levels.flat.at<unsigned char>(r, c) != 0 &&
          std::abs(static_cast<double>(levels.over_top.at<float>(r, c)) - coat.at) < near)
        of_it[which] += 1;
    }
  }
  cv::Mat map(solid.size(), CV_8U, cv::Scalar(0));
  for (int r = 0; r < solid.rows; ++r) {
    for (int c = 0; c < solid.cols; ++c) {
      const auto which = static_cast<std::size_t>(label.at<int>(r, c));
      map.at<unsigned char>(r, c) = which > 0 && of_it[which] >= 6 && of_it[which] > 0.08 * area[which] ? 1 : 0;
    }
  }
  return map;
}

/// Mean light over bare pavement's on the flat spots of `mask`; nothing where there are none.
std::optional<Ratio> over_bare(const PlanView& plan, const cv::Mat& bare, const Levels& levels, const cv::Mat& mask) {
  const cv::Mat light = plan.light(levels.at), pavement = cv::max(bare(levels.at), cv::Scalar::all(1e-4));
  cv::Mat ratio;
  cv::divide(light, pavement, ratio);
  const cv::Mat flat = mask & levels.flat;
  if (cv::countNonZero(flat) == 0) return std::nullopt;
  const cv::Scalar mean = cv::mean(ratio, flat);
  return Ratio{mean[0], mean[1], mean[2]};
}

/// Where light and shade both fall, shade that was not seen as such is duller too, and bluer by as much as shade is
/// here; an older coat of this hue is greyer or browner.
bool like_shade(const Ratio& patch, const Ratio& top, const PavementLook& look) {
  if (!look.broken) return false;
  std::array<double, 3> down{}, shade{};
  double deep = 0, whole = 0;
  for (std::size_t k = 0; k < 3; ++k) {
    down[k] = std::log(std::max(1e-3, patch[k]) / std::max(1e-3, top[k]));
    shade[k] = std::log(std::max(1e-4, look.shade[k]) / std::max(1e-4, look.sun[k]));
    deep += down[k], whole += shade[k];
  }
  const double bluer = (shade[2] - shade[0]) * deep / std::min(-1e-3, whole);
  return bluer > 0.02 && down[2] - down[0] > 0.3 * bluer && down[2] - down[0] < 2 * bluer;
}

}  // namespace

std::optional<OlderCoat> find_duller_coat(const PlanView& plan, const cv::Mat& bare, const cv::Mat& level,
                                          const PavementLook& look, double core_mm, double blur_px) {
  constexpr double kLeastPixels = 800;
  if (plan.on_field) return std::nullopt;
  const double blur = std::clamp(blur_px, 0.5, 2.5) * std::max(1.0, plan.photo_px_mm / plan.mm_per_pixel);
  const Levels levels = levels_of(plan, level, core_mm, blur);
  if (levels.pixels < kLeastPixels) return std::nullopt;
  std::optional<Candidate> coat;
  double most = 0;
  for (const Candidate& candidate : candidates_below_top(levels)) {
    const double share = share_like_a_coat(levels, candidate, blur, look.broken);
    if (share > most) most = share, coat = candidate;
  }
  if (!coat) return std::nullopt;
  const cv::Mat patches = patches_of(levels, *coat);
  const std::optional<Ratio> patch = over_bare(plan, bare, levels, patches),
                             top = over_bare(plan, bare, levels, between(levels, (coat->at + coat->top) / 2, 2));
  if (!patch || !top || like_shade(*patch, *top, look)) return std::nullopt;
  OlderCoat older;
  older.over_pavement = *patch;
  older.map = cv::Mat::zeros(plan.light.size(), CV_32F);
  for (int r = 0; r < patches.rows; ++r) {
    for (int c = 0; c < patches.cols; ++c) {
      if (patches.at<unsigned char>(r, c) == 0) continue;
      const double cover = std::min(1.0, static_cast<double>(levels.over_top.at<float>(r, c)) / coat->at);
      older.map.at<float>(r + levels.at.y, c + levels.at.x) = static_cast<float>(cover);
      older.share += cover / levels.pixels;
    }
  }
  if (older.share < kOfAHeap.area) return std::nullopt;
  return older;
}

}  // namespace lotwear
