#include "rendering/letters.hpp"

#include <algorithm>
#include <map>

#include "base/trouble.hpp"

namespace lotwear::rendering {

namespace {

using Path = std::vector<GroundPoint>;

/// Strokes on a grid 4 wide and 6 tall, y down; a stroke's middle line, so that the letter fills the grid.
const std::map<char, std::vector<Path>>& strokes() {
  static const std::map<char, std::vector<Path>> all = {
      {'A', {{{0, 6}, {0, 1}, {1, 0}, {3, 0}, {4, 1}, {4, 6}}, {{1, 3.4}, {3, 3.4}}}},
      {'C', {{{4, 1}, {3, 0}, {1, 0}, {0, 1}, {0, 5}, {1, 6}, {3, 6}, {4, 5}}}},
      {'D', {{{0, 0}, {0, 6}}, {{1, 0}, {3, 0}, {4, 1}, {4, 5}, {3, 6}, {1, 6}}}},
      {'E', {{{4, 0}, {0, 0}, {0, 6}, {4, 6}}, {{1, 3}, {3, 3}}}},
      {'F', {{{4, 0}, {0, 0}, {0, 6}}, {{1, 2.8}, {3.4, 2.8}}}},
      {'G', {{{4, 1}, {3, 0}, {1, 0}, {0, 1}, {0, 5}, {1, 6}, {4, 6}, {4, 3.4}, {2.4, 3.4}}}},
      {'I', {{{2, 0}, {2, 6}}}},
      {'K', {{{0, 0}, {0, 6}}, {{4, 0}, {1.3, 3}, {4, 6}}}},
      {'L', {{{0, 0}, {0, 6}, {4, 6}}}},
      {'N', {{{0, 6}, {0, 0}, {4, 6}, {4, 0}}}},
      {'O',
       {{{1.5, 0}, {1, 0}, {0, 1}, {0, 5}, {1, 6}, {1.5, 6}}, {{2.5, 0}, {3, 0}, {4, 1}, {4, 5}, {3, 6}, {2.5, 6}}}},
      {'P', {{{0, 0}, {0, 6}}, {{1, 0}, {3.4, 0}, {4, 0.7}, {4, 2.6}, {3.4, 3.3}, {1, 3.3}}}},
      {'R', {{{0, 0}, {0, 6}}, {{1, 0}, {3.4, 0}, {4, 0.7}, {4, 2.4}, {3.4, 3.1}, {1, 3.1}}, {{2.1, 3.9}, {4, 6}}}},
      {'S', {{{4, 1}, {3, 0}, {1, 0}, {0, 1}, {0, 2.2}, {0.9, 3}, {3.1, 3}, {4, 3.8}, {4, 5}, {3, 6}, {1, 6}, {0, 5}}}},
      {'T', {{{0, 0}, {4, 0}}, {{2, 1}, {2, 6}}}},
      {'U', {{{0, 0}, {0, 5}, {1, 6}, {3, 6}, {4, 5}, {4, 0}}}},
      {'W', {{{0, 0}, {0.8, 6}, {2, 2}, {3.2, 6}, {4, 0}}}},
      {'Y', {{{0, 0}, {2, 2.9}, {4, 0}}, {{2, 4.1}, {2, 6}}}},
  };
  return all;
}

GroundRing outlined(const Path& path, double width) {
  GroundRing left, right;
  const auto unit = [](GroundPoint d) { return d * (1.0 / length(d)); };
  for (std::size_t i = 0; i < path.size(); ++i) {
    const GroundPoint in = i > 0 ? unit(path[i] - path[i - 1]) : unit(path[1] - path[0]);
    const GroundPoint out = i + 1 < path.size() ? unit(path[i + 1] - path[i]) : in;
    const GroundPoint n{in.y, -in.x}, m{out.y, -out.x};
    const double spread = std::max(0.35, 1 + dot(n, m));  // a sharp corner's mitre is cut short
    const GroundPoint mitre = (n + m) * (width / 2 / spread);
    left.push_back(path[i] + mitre);
    right.push_back(path[i] - mitre);
  }
  left.insert(left.end(), right.rbegin(), right.rend());
  return left;
}

}  // namespace

std::vector<GroundRing> legend(const std::string& words, double height_mm, double width_share, double stroke_mm) {
  std::vector<GroundRing> rings;
  const double letter_width = height_mm * width_share, gap = 0.32 * letter_width + 0.6 * stroke_mm,
               line = 1.35 * height_mm;
  std::vector<std::string> lines(1);
  for (const char c : words) {
    if (c == '/') {
      lines.emplace_back();
    } else {
      lines.back().push_back(c);
    }
  }
  for (std::size_t l = 0; l < lines.size(); ++l) {
    const double count = static_cast<double>(lines[l].size());
    const double start = -(count * letter_width + (count - 1) * gap) / 2;
    const double top = (static_cast<double>(l) - static_cast<double>(lines.size()) / 2) * line + (line - height_mm) / 2;
    for (std::size_t i = 0; i < lines[l].size(); ++i) {
      if (lines[l][i] == ' ') continue;
      const auto letter = strokes().find(lines[l][i]);
      require(letter != strokes().end(), "a legend uses letters that have a stencil");
      const double x = start + static_cast<double>(i) * (letter_width + gap), half = stroke_mm / 2;
      for (const Path& stroke : letter->second) {
        Path path;
        for (const GroundPoint& p : stroke) {
          path.push_back(
              {x + half + p.x / 4 * (letter_width - stroke_mm), top + half + p.y / 6 * (height_mm - stroke_mm)});
        }
        rings.push_back(outlined(path, stroke_mm));
      }
    }
  }
  return rings;
}

}  // namespace lotwear::rendering
