#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "marking/groups.hpp"
#include "marking/together.hpp"

namespace lotwear {

namespace {

// Sizes on a ground without a scale sheet are off by a fifth now and then; the limits below leave room for that.
constexpr double kWideFromMm = 190, kWideSpreadMm = 25;   // lines end at 6 in, crosswalk bars begin at 8 to 12 in (MUTCD 2009 3B.18)
constexpr double kMostGapPerWidth = 2.8;     // MUTCD 2009 3B.18: not more than 2.5 bars apart
constexpr double kWalkwayFromMm = 1200, kWalkwayToMm = 4800;   // 6 ft between crosswalk lines (MUTCD 2009 3B.18), and lanes of paths
constexpr double kHatchingPitchMm = 1400;    // California marks aisles at 36 in; a stall is 2.4 m and more

// On a ground whose scale or tilt is off stall lines may seem as close as hatching's bars; they are longer.
constexpr double kSurelyLines = 0.8, kLongAsAStall = 30;   // the finder's word; widths, 10 ft of 4 in

constexpr double kBesideWidths = 1.5, kLeastBeside = 0.4;   // how near what hatching encloses a bar of it lies, over how much of its length

double gap(const Bar& a, const Bar& b) {
  const double between = std::min({point_to_segment(a.start, b.start, b.end), point_to_segment(a.end, b.start, b.end),
                                   point_to_segment(b.start, a.start, a.end), point_to_segment(b.end, a.start, a.end)});
  return std::max(0.0, between - (a.width_mm + b.width_mm) / 2);
}

double vote(const Bar& bar, FinderKind kind) { return bar.votes[static_cast<std::size_t>(kind)]; }

FinderKind likely(const Bar& bar) {
  return static_cast<FinderKind>(std::max_element(bar.votes.begin(), bar.votes.end()) - bar.votes.begin());
}

bool parallel(const Bar& a, const Bar& b) { return std::abs(cross(a.along(), b.along())) < 0.12; }

/// 0 narrow as a stall line .. 1 wide as a crosswalk's or stop line's bar.
double wideness(double width_mm) { return 1 / (1 + std::exp(-(width_mm - kWideFromMm) / kWideSpreadMm)); }

GroundPoint middle(const Bar& bar) { return (bar.start + bar.end) * 0.5; }

/// Distance of the middle lines of two parallel bars.
double pitch(const Bar& a, const Bar& b) { return std::abs(cross(a.along(), middle(b) - a.start)); }

/// Parallel bars of one paint and width that face each other over at least `share` of the shorter one's length.
bool facing(const Bar& a, const Bar& b, double share) {
  if (!parallel(a, b) || !same_paint(a.contrast, b.contrast)) return false;
  if (std::max(a.width_mm, b.width_mm) > 1.6 * std::min(a.width_mm, b.width_mm)) return false;
  const GroundPoint u = a.along();
  const double s = dot(u, b.start - a.start), t = dot(u, b.end - a.start);
  const double shared = std::min(a.length(), std::max(s, t)) - std::max(0.0, std::min(s, t));
  return shared > share * std::min(a.length(), b.length());
}

/// Bars of hatching: parallel ones closer than a stall is wide, tied together by a border or a spine they touch.
bool hatched_together(const Bar& a, const Bar& b) {
  return !parallel(a, b) && gap(a, b) < 0.7 * std::max(a.width_mm, b.width_mm) && same_paint(a.contrast, b.contrast);
}

class BarSets {
 public:
  explicit BarSets(const std::vector<FittedBar>& bars) : bars_(bars) {}

  std::vector<BarGroup> grouped() {
    join_structures();
    join_crosswalks();
    join_loose_hatching();
    std::vector<BarGroup> groups;
    for (const std::vector<std::size_t>& set : sets(joined_)) {
      BarGroup group;
      group.bars = set;
      groups.push_back(std::move(group));
    }
    return groups;
  }
  bool structure(const BarGroup& group) const { return structure_[group.bars.front()]; }

 private:
  const Bar& bar(std::size_t i) const { return bars_[i].bar; }
  std::size_t count() const { return bars_.size(); }

  std::vector<std::vector<std::size_t>> sets(Together& together) const {
    std::vector<std::vector<std::size_t>> all(count());
    for (std::size_t i = 0; i < count(); ++i) all[together.of(i)].push_back(i);
    std::erase_if(all, [](const auto& set) { return set.empty(); });
    return all;
  }
  template <class Related>
  std::vector<std::vector<std::size_t>> related(Related&& are) const {
    Together together(count());
    for (std::size_t i = 0; i < count(); ++i) {
      for (std::size_t j = i + 1; j < count(); ++j) {
        if (!structure_[i] && !structure_[j] && are(bar(i), bar(j))) together.join(i, j);
      }
    }
    return sets(together);
  }
  void join(const std::vector<std::size_t>& set) {
    for (const std::size_t i : set) joined_.join(set.front(), i);
  }
  double mean_vote(const std::vector<std::size_t>& set, FinderKind kind) const {
    double sum = 0;
    for (const std::size_t i : set) sum += vote(bar(i), kind);
    return sum / static_cast<double>(set.size());
  }
  double mean_width(const std::vector<std::size_t>& set) const {
    double sum = 0;
    for (const std::size_t i : set) sum += bar(i).width_mm;
    return sum / static_cast<double>(set.size());
  }

  double mean_length(const std::vector<std::size_t>& set) const {
    double sum = 0;
    for (const std::size_t i : set) sum += bar(i).length();
    return sum / static_cast<double>(set.size());
  }

  /// Bars that touch one another: hatching with its border, a ladder with its rails.
  void join_structures() {
    for (const auto& touching : related(hatched_together)) {
      const std::vector<std::size_t> set = without_strangers(touching);
      if (!holds_close_row(set)) continue;
      join(set);
      for (const std::size_t i : set) structure_[i] = true;
    }
  }
  /// Share of a bar that lies on or beside what the others of a set enclose.
  double share_beside(std::size_t one, const std::vector<std::size_t>& others) const {
    constexpr int kAlong = 20;
    std::vector<cv::Point2f> ends, hull;
    for (const std::size_t i : others) {
      if (i == one) continue;
      for (const GroundPoint p : {bar(i).start, bar(i).end}) ends.emplace_back(static_cast<float>(p.x), static_cast<float>(p.y));
    }
    if (ends.size() < 3) return 0;
    cv::convexHull(ends, hull);
    int beside = 0;
    for (int i = 0; i < kAlong; ++i) {
      const GroundPoint p = bar(one).start + bar(one).along() * (bar(one).length() * (i + 0.5) / kAlong);
      const double inside = cv::pointPolygonTest(hull, {static_cast<float>(p.x), static_cast<float>(p.y)}, true);
      beside += inside > -kBesideWidths * bar(one).width_mm ? 1 : 0;
    }
    return static_cast<double>(beside) / kAlong;
  }
  /// A border runs along what it holds together, bars lie within; a stall line that ends at a corner leads away.
  std::vector<std::size_t> without_strangers(std::vector<std::size_t> set) const {
    for (bool found = true; found && set.size() > 4;) {
      const auto least = std::min_element(set.begin(), set.end(), [&](std::size_t i, std::size_t j) {
        return share_beside(i, set) < share_beside(j, set);
      });
      found = share_beside(*least, set) < kLeastBeside;
      if (found) set.erase(least);
    }
    return set;
  }
  /// At least three bars of one direction closer together than stalls are.
  bool holds_close_row(const std::vector<std::size_t>& set) const {
    if (set.size() < 4) return false;
    return std::any_of(set.begin(), set.end(), [&](std::size_t i) {
      return std::count_if(set.begin(), set.end(), [&](std::size_t j) {
        return j != i && parallel(bar(i), bar(j)) && pitch(bar(i), bar(j)) < kHatchingPitchMm;
      }) >= 2;
    });
  }

  void join_crosswalks() {
    const auto bars = related([](const Bar& a, const Bar& b) { return facing(a, b, 0.55) && gap(a, b) <= kMostGapPerWidth * std::max(a.width_mm, b.width_mm); });
    for (const auto& set : bars) {
      // three wide bars side by side are nothing else; of two the finder must say so
      const double sure = mean_vote(set, FinderKind::crosswalk) + (set.size() >= 3 ? 0.5 : 0.2) * wideness(mean_width(set));
      if (set.size() >= 2 && sure > 0.45) crossing_.insert(crossing_.end(), set.begin(), set.end()), join(set);
    }
    const auto lines = related([this](const Bar& a, const Bar& b) { return edges_of_walkway(a, b); });
    for (const auto& set : lines) {
      if (set.size() != 2 || std::any_of(set.begin(), set.end(), [&](std::size_t i) { return crosses(i); })) continue;
      crossing_.insert(crossing_.end(), set.begin(), set.end());
      join(set);
    }
  }
  bool crosses(std::size_t i) const { return std::find(crossing_.begin(), crossing_.end(), i) != crossing_.end(); }
  /// Two lines along a walkway, as long as each other where the photo shows their ends.
  bool edges_of_walkway(const Bar& a, const Bar& b) const {
    const double apart = pitch(a, b), shorter = std::min(a.length(), b.length());
    if (!facing(a, b, 0.75) || shorter < 1200 || apart < kWalkwayFromMm || apart > kWalkwayToMm) return false;
    const bool cut = a.start_cut || a.end_cut || b.start_cut || b.end_cut;
    if (!cut && shorter < 0.8 * std::max(a.length(), b.length())) return false;
    const double said = (vote(a, FinderKind::crosswalk) + vote(b, FinderKind::crosswalk)) / 2;
    // the finder seldom says so of two lines: 8 in will do, stall lines are half of that
    return said + 0.6 * wideness((a.width_mm + b.width_mm) / 2) > 0.3;
  }

  /// Hatching whose bars do not touch: slanted ones by a border, or an even row of narrow ones.
  void join_loose_hatching() {
    for (std::size_t i = 0; i < count(); ++i) {
      for (std::size_t j = i + 1; j < count(); ++j) {
        const Bar &a = bar(i), &b = bar(j);
        if (parallel(a, b) || likely(a) != FinderKind::hatching || likely(b) != FinderKind::hatching) continue;
        if (gap(a, b) >= std::max(8 * std::max(a.width_mm, b.width_mm), 900.0)) continue;
        if (structure_[i] != structure_[j] && !belongs(structure_[i] ? j : i, structure_[i] ? i : j)) continue;
        joined_.join(i, j);
      }
    }
    const auto rows = related([](const Bar& a, const Bar& b) { return facing(a, b, 0.3) && pitch(a, b) < kHatchingPitchMm; });
    for (const auto& set : rows) {
      if (set.size() < 3 || !even(set) || crosses(set.front())) continue;
      const bool surely_lines = mean_vote(set, FinderKind::line) > kSurelyLines && mean_length(set) > kLongAsAStall * mean_width(set);
      if (mean_vote(set, FinderKind::hatching) > 0.25 || (close_for_width(set) && !surely_lines)) join(set);
    }
  }
  /// A bar within the structure of another: worn through where it would touch.
  bool belongs(std::size_t loose, std::size_t held) {
    std::vector<std::size_t> whole;
    for (std::size_t i = 0; i < count(); ++i) {
      if (structure_[i] && joined_.of(i) == joined_.of(held)) whole.push_back(i);
    }
    return share_beside(loose, whole) >= kLeastBeside;
  }
  /// Closer together than any stall's lines, in widths: true on a ground of unknown scale too. Lines of 4 in stand 24 and more
  /// of their widths apart, of 6 in 16.
  bool close_for_width(const std::vector<std::size_t>& set) const {
    constexpr double kWidths = 11;
    const double steps = static_cast<double>(set.size()) - 1;
    double reach = 0;
    for (const std::size_t i : set) reach = std::max(reach, pitch(bar(set.front()), bar(i)));
    for (const std::size_t i : set) reach = std::max(reach, pitch(bar(set.back()), bar(i)));
    return reach < kWidths * steps * mean_width(set);
  }
  /// Steps from bar to bar differ by a quarter at most; lines that happen to lie side by side do not.
  bool even(const std::vector<std::size_t>& set) const {
    const GroundPoint u = bar(set.front()).along();
    std::vector<double> at;
    for (const std::size_t i : set) at.push_back(cross(u, middle(bar(i)) - bar(set.front()).start));
    std::sort(at.begin(), at.end());
    double least = 1e12, most = 0;
    for (std::size_t i = 1; i < at.size(); ++i) least = std::min(least, at[i] - at[i - 1]), most = std::max(most, at[i] - at[i - 1]);
    return most < 1.25 * least;
  }

  const std::vector<FittedBar>& bars_;
  Together joined_{bars_.size()};
  std::vector<bool> structure_ = std::vector<bool>(bars_.size(), false);
  std::vector<std::size_t> crossing_;
};

bool square_throughout(const std::vector<FittedBar>& bars, const std::vector<std::size_t>& set) {
  for (const std::size_t i : set) {
    const double turn = std::abs(cross(bars[set.front()].bar.along(), bars[i].bar.along()));
    if (turn > 0.2 && turn < 0.96) return false;
  }
  return true;
}

void name(BarGroup& group, const std::vector<FittedBar>& bars, bool structure, bool true_scale) {
  double line = 0, stop = 0, crosswalk = 0, hatching = 0, curb = 0, width = 0;
  for (const std::size_t i : group.bars) {
    line += vote(bars[i].bar, FinderKind::line);
    stop += vote(bars[i].bar, FinderKind::stop_line);
    crosswalk += vote(bars[i].bar, FinderKind::crosswalk);
    hatching += vote(bars[i].bar, FinderKind::hatching);
    curb += vote(bars[i].bar, FinderKind::curb);
    width += bars[i].bar.width_mm;
  }
  const double n = static_cast<double>(group.bars.size());
  width /= n;
  if (group.bars.size() == 1) {
    if (true_scale) {
      // MUTCD: normal lines 4-6 in, wide ones from 8 in, stop lines from 12 in: the width has a say beside the finder
      const double wide = 1 / (1 + std::exp(-(width - 230) / 25));
      stop *= 0.1 + 0.9 * wide;
      line *= 1 - 0.8 * wide;
    }
    // one bar is neither a crosswalk nor hatching, though part of one may be all that the picture shows
    hatching *= 0.5, crosswalk *= 0.5, stop = std::max(stop, width > 230 ? 0.5 * crosswalk : 0.0);
  } else if (!structure) {
    // side by side they are one or the other: what brought them together told which, and width agrees
    line = stop = 0;
    crosswalk += 0.5 * n * wideness(width);
  }
  // fire lanes are red: a red stripe is the painted edge of one, on the curb or along it
  const PaintContrast& look = bars[group.bars.front()].bar.contrast;
  if (look.paint[0] - look.pavement[0] > 25 && look.paint[1] < look.pavement[1] && look.paint[2] < look.pavement[2]) curb += 0.6 * line;
  const std::array<std::pair<double, Kind>, 5> ranked = {{{line, Kind::line}, {stop, Kind::stop_line}, {crosswalk, Kind::crosswalk}, {hatching, Kind::hatching}, {curb, Kind::curb}}};
  const auto best = std::max_element(ranked.begin(), ranked.end(), [](const auto& a, const auto& b) { return a.first < b.first; });
  // a ladder's rungs stand square between its rails; hatching runs across at a slant, unless the finder is sure
  const bool ladder = structure && square_throughout(bars, group.bars) && crosswalk + 0.5 * n * wideness(width) > 0.5 * hatching;
  group.kind = ladder ? Kind::crosswalk : structure ? Kind::hatching : best->first > 0 ? best->second : Kind::line;
  group.confidence = structure ? 0.9 : best->first > 0 ? std::min(0.99, best->first / std::max(1e-9, line + stop + crosswalk + hatching + curb)) : 0.4;
}

}  // namespace

std::vector<BarGroup> group_bars(const std::vector<FittedBar>& bars, bool true_scale) {
  BarSets sets(bars);
  std::vector<BarGroup> groups = sets.grouped();
  for (BarGroup& group : groups) name(group, bars, sets.structure(group), true_scale);
  // two stripes side by side are two lines, whatever the finder calls them: hatching has three and more
  std::vector<BarGroup> apart;
  for (const BarGroup& group : groups) {
    if (group.kind != Kind::hatching || group.bars.size() >= 3) {
      apart.push_back(group);
      continue;
    }
    for (const std::size_t i : group.bars) apart.push_back({Kind::line, 0.5, {i}});
  }
  return apart;
}

}  // namespace lotwear
