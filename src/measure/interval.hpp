#pragma once
// What can be wrong with the share of paint, in parts; the interval is 90 % and need not be even: most of what goes
// unseen (wear finer than the picture, an older coat that looks like the top one) reads as paint.

#include "base/units.hpp"
#include "marking/marking.hpp"
#include "measure/plan_view.hpp"
#include "measure/separation.hpp"

namespace lotwear {

/// Shares of the footprint.
struct ErrorBudget {
  double references = 0;        ///< places of bare pavement and of sound paint
  double outline = 0;           ///< the rim differs from the core, and the outline may be off
  double opinions = 0;          ///< the mixture's weights and the linear mean disagree
  double sampling = 0;          ///< few pixels
  double hidden = 0;            ///< wear finer than the picture shows reads as duller paint, never as more of it
  double contrast = 0;          ///< spread of bare pavement, the step to paint being 1
  double mixed = 0;             ///< neither whole nor gone: references tell most there
  double flaked = 0;            ///< where a coat flakes, an older one of its colour may be what is seen
  double dull = 0;              ///< duller paint in one piece beside chips: soil, or an older coat of the same hue
  double clipped = 0;           ///< paint at the top of the scale, where fine wear drowns
  double pale = 0;              ///< paint that scatters and looks faded may be worn finer than the picture shows
  double broken = 0;            ///< 1: light inside the marking is inferred, not seen
  double open_older = 0;        ///< share that may be an older coat all the same
  bool two = false;             ///< a second opinion was heard; the parts above are the separation's
  double below = 0, above = 0;  ///< how far the second opinion lies below the separation, or above it
  double reach_down() const;
  double reach_up() const;
};
/// What was measured of a marking.
struct Measured {
  double remaining = 0, flaked = 0, faded = 0;
};
/// `blur_mm`: blur of the photo on the ground.
ErrorBudget error_budget(const PlanView& plan, const Separation& paint, const Footprint& footprint, double core_mm,
                         double blur_mm, const Measured& measured);

/// Kept within 0..1.
Interval interval_within(double value, double down, double up);
/// 1.645 standard deviations each way.
Interval interval_of(double value, double deviation);

}  // namespace lotwear
