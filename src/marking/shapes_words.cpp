#include <algorithm>
#include <cmath>

#include "marking/shapes_parts.hpp"

namespace lotwear {

namespace {

constexpr double kGridWide = 4, kGridHigh = 6;

/// Proportions of a word, in their order; after them two a letter.
enum : std::size_t { letter_width, letter_gap, stroke, bridge, reach, first_letter };
constexpr std::size_t kOfALetter = 2;  // its shift along the row, its width over the usual letter's

GroundPoint unit(GroundPoint d) { return d * (1 / std::max(1e-9, length(d))); }

/// A stroke of even width along a path, its corners mitred.
GroundRing stroked(const std::vector<GroundPoint>& path, double width) {
  constexpr double kSharpest = 0.35;  // the mitre of a sharper corner is cut short
  GroundRing left, right;
  for (std::size_t i = 0; i < path.size(); ++i) {
    const GroundPoint in = i > 0 ? unit(path[i] - path[i - 1]) : unit(path[1] - path[0]);
    const GroundPoint out = i + 1 < path.size() ? unit(path[i + 1] - path[i]) : in;
    const GroundPoint n{in.y, -in.x}, m{out.y, -out.x};
    const GroundPoint mitre = (n + m) * (width / 2 / std::max(kSharpest, 1 + dot(n, m)));
    left.push_back(path[i] + mitre);
    right.push_back(path[i] - mitre);
  }
  left.insert(left.end(), right.rbegin(), right.rend());
  return left;
}

}  // namespace

namespace shape_parts {

Rings word(const std::vector<Letter>& letters, Values v) {
  const auto past_end = [&](LetterStroke::End end) {
    switch (end) {
      case LetterStroke::End::meets:
        return -v[bridge] / 2;
      case LetterStroke::End::side:
        return -v[stroke] / 2 - v[bridge];
      case LetterStroke::End::free:
        break;
    }
    return v[reach] * v[stroke];
  };
  Rings rings;
  double x = 0;
  for (std::size_t i = 0; i < letters.size(); ++i) {
    const double wide = std::max(v[stroke], v[letter_width] * v[first_letter + kOfALetter * i + 1]);
    const double left = x + v[stroke] / 2 + v[first_letter + kOfALetter * i],
                 across = std::max(0.0, wide - v[stroke]) / kGridWide, down = (1 - v[stroke]) / kGridHigh;
    for (const LetterStroke& one : letters[i]) {
      std::vector<GroundPoint> path;
      for (const GroundPoint& p : one.path)
        path.push_back({left + p.x * across, v[stroke] / 2 + p.y * down});
      const std::size_t n = path.size();
      const GroundPoint before = unit(path[0] - path[1]), after = unit(path[n - 1] - path[n - 2]);
      path[0] = path[0] + before * past_end(one.start);
      path[n - 1] = path[n - 1] + after * past_end(one.end);
      rings.push_back(stroked(path, v[stroke]));
    }
    x += wide + v[letter_gap];
  }
  return rings;
}

}  // namespace shape_parts

std::vector<double> word_values(const Shape& word, const WordSetting& setting) {
  std::vector<double> values = usual_values(word);
  values[letter_width] = setting.letter_width, values[letter_gap] = setting.gap, values[stroke] = setting.stroke;
  double x = 0;  // where the letter before ends
  for (std::size_t i = 0; i < setting.letters.size(); ++i) {
    const auto& [left, width] = setting.letters[i];
    values[first_letter + kOfALetter * i] = left - setting.letters.front().left - x;
    values[first_letter + kOfALetter * i + 1] = width / setting.letter_width;
    x += width + setting.gap;
  }
  return values;
}

std::vector<GroundRing> strokes_of(const Shape& word, const std::vector<double>& values) {
  return shape_parts::word(word.letters, values);
}

Shape word_shape(const std::string& text, const std::vector<Letter>& letters) {
  Shape shape;
  shape.name = "word-" + text, shape.kind = Kind::legend, shape.text = text, shape.letters = letters;
  // 12 in on a curb to 8 ft on a lane (common practice, no source)
  shape.low_length_mm = 250, shape.usual_length_mm = 600, shape.high_length_mm = 2600;
  shape.proportions = {{"letter-width", 0.15, 0.55, 1.0},
                       {"letter-gap", 0.02, 0.25, 0.7},
                       {"stroke", 0.03, 0.12, 0.3},
                       {"bridge", 0, 0.02, 0.1},
                       {"reach", 0, 0.3, 0.6}};
  for (std::size_t i = 0; i < letters.size(); ++i) {
    // letters are set by eye, and some alphabets have wide and narrow ones
    shape.proportions.push_back({"shift-" + std::to_string(i + 1), -0.3, 0, 0.3});
    shape.proportions.push_back({"width-" + std::to_string(i + 1), text[i] == 'I' ? 0.15 : 0.6, 1, 1.6, false});
  }
  return shape;
}

}  // namespace lotwear
