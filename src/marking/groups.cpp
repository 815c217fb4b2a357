#include "marking/groups.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace lotwear {

namespace {

/// Sets joined pair by pair.
class Together {
 public:
  explicit Together(std::size_t n) : root_(n) { std::iota(root_.begin(), root_.end(), std::size_t{0}); }
  std::size_t of(std::size_t i) {
    while (root_[i] != i) i = root_[i];
    return i;
  }
  void join(std::size_t a, std::size_t b) {
    const std::size_t ra = of(a), rb = of(b);
    root_[std::max(ra, rb)] = std::min(ra, rb);
  }

 private:
  std::vector<std::size_t> root_;
};

double point_to_segment(GroundPoint p, GroundPoint a, GroundPoint b) {
  const GroundPoint d = b - a;
  const double t = std::clamp(dot(p - a, d) / std::max(dot(d, d), 1e-9), 0.0, 1.0);
  return length(p - (a + d * t));
}

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

bool of_one_crosswalk(const Bar& a, const Bar& b) {
  if (!parallel(a, b)) return false;
  // bars: MUTCD 2009 3B.18, 12-60 in apart and not more than 2.5 bars; two edge lines: the walkway between them
  const bool bars = gap(a, b) <= 2.8 * std::max(a.width_mm, b.width_mm);
  const bool edges = std::min(a.length(), b.length()) > 1500 && gap(a, b) < 3600 &&
                     std::abs(dot(a.along(), (a.start + a.end) * 0.5 - (b.start + b.end) * 0.5)) < 0.5 * std::max(a.length(), b.length());
  return bars || edges;
}

/// Bars of hatching: parallel ones closer than a stall is wide, tied together by a border or a spine they touch.
bool hatched_together(const Bar& a, const Bar& b) {
  return !parallel(a, b) && gap(a, b) < 0.7 * std::max(a.width_mm, b.width_mm) && same_paint(a.contrast, b.contrast);
}

/// A set of touching bars is hatching when at least three of one direction lie closer than 1.4 m (California marks aisles at
/// 36 in centres; a stall is 2.4 m and more).
bool is_hatching(const std::vector<FittedBar>& bars, const std::vector<std::size_t>& set) {
  for (const std::size_t i : set) {
    int close = 0;
    for (const std::size_t j : set) {
      if (i == j || !parallel(bars[i].bar, bars[j].bar)) continue;
      const GroundPoint between = bars[j].bar.start - bars[i].bar.start;
      if (std::abs(cross(bars[i].bar.along(), between)) < 1400) ++close;
    }
    if (close >= 2 && set.size() >= 4) return true;
  }
  return false;
}

bool square_throughout(const std::vector<FittedBar>& bars, const std::vector<std::size_t>& set) {
  for (const std::size_t i : set) {
    const double turn = std::abs(cross(bars[set.front()].bar.along(), bars[i].bar.along()));
    if (turn > 0.2 && turn < 0.96) return false;
  }
  return true;
}

}  // namespace

std::vector<BarGroup> group_bars(const std::vector<FittedBar>& bars, bool true_scale) {
  Together together(bars.size());
  for (std::size_t i = 0; i < bars.size(); ++i) {
    for (std::size_t j = i + 1; j < bars.size(); ++j) {
      const Bar &a = bars[i].bar, &b = bars[j].bar;
      const bool crosswalk = likely(a) == FinderKind::crosswalk && likely(b) == FinderKind::crosswalk && of_one_crosswalk(a, b);
      const bool hatching = likely(a) == FinderKind::hatching && likely(b) == FinderKind::hatching &&
                            gap(a, b) < std::max(8 * std::max(a.width_mm, b.width_mm), 900.0);
      if (crosswalk || hatching) together.join(i, j);
    }
  }
  Together touching(bars.size());
  for (std::size_t i = 0; i < bars.size(); ++i) {
    for (std::size_t j = i + 1; j < bars.size(); ++j) {
      if (hatched_together(bars[i].bar, bars[j].bar)) touching.join(i, j);
    }
  }
  std::vector<bool> hatched(bars.size(), false);
  for (std::size_t i = 0; i < bars.size(); ++i) {
    std::vector<std::size_t> set;
    for (std::size_t j = 0; j < bars.size(); ++j) {
      if (touching.of(j) == touching.of(i)) set.push_back(j);
    }
    if (set.front() != i || !is_hatching(bars, set)) continue;
    for (const std::size_t j : set) {
      hatched[j] = true;
      together.join(i, j);
    }
  }
  std::vector<BarGroup> groups;
  std::vector<std::ptrdiff_t> group_of(bars.size(), -1);
  for (std::size_t i = 0; i < bars.size(); ++i) {
    const std::size_t root = together.of(i);
    if (group_of[root] < 0) {
      group_of[root] = static_cast<std::ptrdiff_t>(groups.size());
      groups.emplace_back();
    }
    groups[static_cast<std::size_t>(group_of[root])].bars.push_back(i);
  }
  for (BarGroup& group : groups) {
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
    if (true_scale) {
      // MUTCD: normal lines 4-6 in, wide ones from 8 in, stop lines from 12 in: the width has a say beside the finder
      const double wide = 1 / (1 + std::exp(-(width - 230) / 25));
      stop *= 0.1 + 0.9 * wide;
      line *= 1 - 0.8 * wide;
    }
    // one bar is neither a crosswalk nor hatching, though part of one may be all that the picture shows
    if (group.bars.size() == 1) hatching *= 0.5, crosswalk *= 0.5, stop = std::max(stop, width > 230 ? 0.5 * crosswalk : 0.0);
    // fire lanes are red: a red stripe is the painted edge of one, on the curb or along it
    const PaintContrast& look = bars[group.bars.front()].bar.contrast;
    if (look.paint[0] - look.pavement[0] > 25 && look.paint[1] < look.pavement[1] && look.paint[2] < look.pavement[2]) curb += 0.6 * line;
    const std::array<std::pair<double, Kind>, 5> ranked = {{{line, Kind::line}, {stop, Kind::stop_line}, {crosswalk, Kind::crosswalk}, {hatching, Kind::hatching}, {curb, Kind::curb}}};
    const auto best = std::max_element(ranked.begin(), ranked.end(), [](const auto& a, const auto& b) { return a.first < b.first; });
    const bool structure = hatched[group.bars.front()];
    // a ladder's rungs stand square between its rails; hatching runs across at a slant, unless the finder is sure
    const bool ladder = structure && square_throughout(bars, group.bars) && crosswalk > 0.5 * hatching;
    group.kind = ladder ? Kind::crosswalk : structure ? Kind::hatching : best->first > 0 ? best->second : Kind::line;
    group.confidence = structure ? 0.9 : best->first > 0 ? std::min(0.99, best->first / std::max(1e-9, line + stop + crosswalk + hatching + curb)) : 0.4;
  }
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

std::vector<std::vector<std::size_t>> near_each_other(const std::vector<std::vector<GroundRing>>& rings, double reach_mm) {
  Together together(rings.size());
  const auto closest = [](const std::vector<GroundRing>& a, const std::vector<GroundRing>& b) {
    double best = 1e12;
    for (const GroundRing& ra : a) {
      for (const GroundPoint& p : ra) {
        for (const GroundRing& rb : b) {
          for (std::size_t i = 0; i < rb.size(); ++i) best = std::min(best, point_to_segment(p, rb[i], rb[(i + 1) % rb.size()]));
        }
      }
    }
    return best;
  };
  for (std::size_t i = 0; i < rings.size(); ++i) {
    for (std::size_t j = i + 1; j < rings.size(); ++j) {
      if (closest(rings[i], rings[j]) < reach_mm) together.join(i, j);
    }
  }
  std::vector<std::vector<std::size_t>> sets;
  std::vector<std::ptrdiff_t> set_of(rings.size(), -1);
  for (std::size_t i = 0; i < rings.size(); ++i) {
    const std::size_t root = together.of(i);
    if (set_of[root] < 0) {
      set_of[root] = static_cast<std::ptrdiff_t>(sets.size());
      sets.emplace_back();
    }
    sets[static_cast<std::size_t>(set_of[root])].push_back(i);
  }
  return sets;
}

}  // namespace lotwear
