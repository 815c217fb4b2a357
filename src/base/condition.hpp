#pragma once
// What `measure` finds of one marking, as plain values: what decisions, survey and report are made of.

#include <optional>
#include <string>
#include <vector>

#include "base/kinds.hpp"
#include "base/units.hpp"

namespace lotwear {

/// Shares of the footprint lost in each way; with `remaining` they make 1.
struct Losses {
  Fraction abraded{};  ///< worn off the stone tops
  Fraction flaked{};   ///< let go in flakes or peeled patches, an older coat laid bare included
  Fraction cracked{};
};

struct Appearance {
  std::optional<double> contrast;  ///< luminance of paint over pavement, linear light, same illumination
  Fraction faded{};                ///< share of its colour difference from the pavement lost against a fresh coat
  Fraction soiled{};               ///< share of the paint under dirt or tyre film; not loss
};

/// ISO 4628-5 classes of the flaked area, 0..5 each.
struct FlakingGrade {
  int density = 0, size = 0;
};

struct Size {
  double area_m2 = 0, length_m = 0, width_m = 0, perimeter_m = 0;
  Fraction error{};  ///< one standard deviation of the lengths, as a share
};

/// One marking as measured. Shares are of the footprint (the marking as it was painted).
struct Condition {
  Colour colour = Colour::other;
  Surface surface = Surface::other;
  Interval remaining;       ///< top coat still on the pavement
  Fraction any_coat{};      ///< older coats counted too
  Interval flaked;          ///< same share as loss.flaked, with its interval: a grind hangs on it
  Interval older_coat;      ///< older coat in sight where the top coat came off
  Interval faded;           ///< same as appearance.faded, with its interval
  Losses loss;
  Appearance appearance;
  std::optional<FlakingGrade> flaking_grade;  ///< nothing without millimetres
  std::optional<Colour> older_colour;         ///< colour of the coat beneath, where one shows
  std::optional<Size> size;                   ///< nothing without scale
  Fraction seen{1.0};                         ///< share of the footprint inside the picture and not covered
  bool in_doubt = false;                      ///< the measurement does not trust itself (see doubts)
  std::vector<std::string> doubts;            ///< sentences for the reasons: repaint missed the old outline, covered, ...
};

}  // namespace lotwear
