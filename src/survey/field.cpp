#include "survey/field.hpp"

#include <vector>

#include "survey/overlap.hpp"

namespace lotwear {

const SurveyMarking* painted_on(const SurveyMarking& field, const Survey& survey) {
  constexpr double kWithin = 0.9;  // of the upper one's area
  if (kind_of(field) != Kind::other) return nullptr;
  const auto area_of = [](const std::vector<ImageRing>& rings) {
    double sum = 0;
    for (const ImageRing& ring : rings)
      sum += area(ring);
    return sum;
  };
  const std::vector<ImageRing> below = outline_of(field);
  for (const SurveyMarking& marking : survey.markings) {
    if (marking.photo != field.photo || marking.id == field.id || kind_of(marking) == Kind::other) continue;
    const std::vector<ImageRing> above = outline_of(marking);
    const double shared = shared_share(above, below), upper = area_of(above), lower = area_of(below);
    // of two areas, the overlap over both together gives the overlap itself
    if (upper < lower && shared * (upper + lower) / (1 + shared) > kWithin * upper) return &marking;
  }
  return nullptr;
}

}  // namespace lotwear
