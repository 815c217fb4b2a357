#pragma once
// What the coat reader says of a marking, brought back to the marking's plan: an older coat of the top coat's own
// colour, a second opinion on how much top coat lies where, and whether what is lost flaked.

#include <opencv2/core/mat.hpp>
#include <optional>

#include "measure/coat_reader.hpp"
#include "measure/coat_view.hpp"
#include "measure/older_coat.hpp"
#include "measure/plan_view.hpp"

namespace lotwear {

struct CoatsSeen {
  CoatView view;
  CoatAnswer answer;
};
/// Nothing where the photo is too coarse for the reader, or next to nothing of the marking is seen. `core_mm`: how far
/// inside the outline pixels are surely of the marking.
std::optional<CoatsSeen> see_coats(const CoatReader& reader, const PlanView& plan, double core_mm);

struct CoatReading {
  std::optional<OlderCoat> older;
  double open = 0;  ///< share of the core that may be an older coat, where the reader is not sure of any
};
/// An older coat as the reader sees it, where the photo bears it out (coat_step); `bare`: bare pavement under the local
/// light.
CoatReading older_coat_of(const CoatsSeen& seen, const PlanView& plan, const cv::Mat& bare, double core_mm);

/// The reader is as good as sure that there is one coat alone. Holds for coats of one colour; of others it knows
/// little.
bool speaks_against_coats(const CoatsSeen& seen);

/// CV_32F 0..1 on the plan: how much top coat the reader sees at each spot; NaN where it was shown nothing.
/// `older_told`: where an older coat lies has been told, by whichever rule, and the rest of what is not bare is top
/// coat. Else what the reader takes for an older coat counts as top coat as far as it does not think the marking laid
/// over one.
cv::Mat top_coat_of(const CoatsSeen& seen, const PlanView& plan, bool older_told);

/// CV_32F 0..1 on the plan: how likely the top coat let go, where it is lost; NaN where the reader was shown nothing.
cv::Mat flakes_of(const CoatsSeen& seen, const PlanView& plan);

}  // namespace lotwear
