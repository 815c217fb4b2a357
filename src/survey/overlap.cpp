#include "survey/overlap.hpp"

#include <algorithm>
#include <limits>

namespace lotwear {

namespace {

struct Span {
  double from = 0, to = 0;
};

struct Box {
  double left = std::numeric_limits<double>::infinity(), top = left, right = -left, bottom = -left;
};

Box box_of(const std::vector<ImageRing>& rings) {
  Box box;
  for (const ImageRing& ring : rings) {
    for (const ImagePoint& p : ring) {
      box = {std::min(box.left, p.x), std::min(box.top, p.y), std::max(box.right, p.x), std::max(box.bottom, p.y)};
    }
  }
  return box;
}

/// Where the line at `y` runs inside the figure: sorted, not touching each other.
std::vector<Span> inside(const std::vector<ImageRing>& rings, double y) {
  std::vector<Span> spans;
  for (const ImageRing& ring : rings) {
    std::vector<double> crossings;
    for (std::size_t i = 0; i < ring.size(); ++i) {
      const ImagePoint a = ring[i], b = ring[(i + 1) % ring.size()];
      if ((a.y <= y) != (b.y <= y)) crossings.push_back(a.x + (b.x - a.x) * (y - a.y) / (b.y - a.y));
    }
    std::sort(crossings.begin(), crossings.end());
    for (std::size_t i = 0; i + 1 < crossings.size(); i += 2)
      spans.push_back({crossings[i], crossings[i + 1]});
  }
  std::sort(spans.begin(), spans.end(), [](Span a, Span b) { return a.from < b.from; });
  std::vector<Span> merged;
  for (const Span& span : spans) {
    if (!merged.empty() && span.from <= merged.back().to) {
      merged.back().to = std::max(merged.back().to, span.to);
    } else {
      merged.push_back(span);
    }
  }
  return merged;
}

double total(const std::vector<Span>& spans) {
  double sum = 0;
  for (const Span& span : spans)
    sum += span.to - span.from;
  return sum;
}

double common(const std::vector<Span>& one, const std::vector<Span>& other) {
  double sum = 0;
  for (std::size_t i = 0, j = 0; i < one.size() && j < other.size();) {
    sum += std::max(0.0, std::min(one[i].to, other[j].to) - std::max(one[i].from, other[j].from));
    one[i].to < other[j].to ? ++i : ++j;
  }
  return sum;
}

}  // namespace

double shared_share(const std::vector<ImageRing>& one, const std::vector<ImageRing>& other) {
  const Box a = box_of(one), b = box_of(other);
  if (!(a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom)) return 0;
  constexpr int kLines = 512;
  const double top = std::min(a.top, b.top), height = std::max(a.bottom, b.bottom) - top;
  double both = 0, either = 0;
  for (int i = 0; i < kLines; ++i) {
    const double y = top + height * (i + 0.5) / kLines;
    const std::vector<Span> in_one = inside(one, y), in_other = inside(other, y);
    const double shared = common(in_one, in_other);
    both += shared;
    either += total(in_one) + total(in_other) - shared;
  }
  return either > 0 ? both / either : 0;
}

}  // namespace lotwear
