#pragma once
// Two measurements of one marking, made one. The separation reckons paint from light, pixel by pixel: exact where light
// and pavement are even, astray where shade, soil or clipping look like wear. The coat reader has learned how worn
// paint lies, and goes by that: seldom far off, seldom exact. Their errors have little to do with each other
// (correlation 0.3 to 0.6 on rendered scenes), so the mean of both is nearer the truth than either, and how far they
// are apart tells how sure to be. How much each counts follows from what leads it astray: paint that is all part worn, or
// blurred, shows no pure pixel to reckon from; sound paint has a texture that looks worn.

#include "measure/plan_view.hpp"
#include "measure/separation.hpp"

namespace lotwear {

struct SecondOpinion {
  double weight = 0;  ///< of the reader's view in the share of paint, 0 where it was not asked
  double apart = 0;   ///< the reader's share of top coat in the core less the separation's
};
/// Moves `paint.share` toward `paint.by_look`. What is finer than the reader's view stays as the separation has it.
/// `blur_mm`: blur of the photo on the ground.
SecondOpinion hear_second_opinion(const PlanView& plan, double core_mm, double blur_mm, Separation& paint);

}  // namespace lotwear
