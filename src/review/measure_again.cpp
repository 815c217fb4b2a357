#include "review/measure_again.hpp"

#include "measure/measure.hpp"

namespace lotwear {

Condition unmeasured(Colour colour, const std::string& why) {
  Condition open;
  open.colour = colour;
  open.remaining = {Fraction{0}, Fraction{0.5}, Fraction{1}};
  open.any_coat = Fraction{0.5};
  open.flaked = open.older_coat = open.faded = {Fraction{0}, Fraction{0}, Fraction{1}};
  open.loss.abraded = Fraction{0.5};
  open.seen = Fraction{0};
  open.in_doubt = true;
  open.doubts = {"it could not be measured: " + why};
  return open;
}

MeasuredAgain measure_again(const Study& study, const std::string& id, Kind kind, const std::vector<ImageRing>& outline,
                            const std::vector<std::vector<ImageRing>>& others) {
  const std::string& file = study.photo.file;
  const Result<Footprint> drawn = footprint_by_hand(study.ground, kind, outline, file);
  if (!drawn) return {unmeasured(Colour::other, drawn.problem().what), std::nullopt};
  std::vector<Footprint> all = {*drawn};
  for (const std::vector<ImageRing>& other : others) {
    if (Result<Footprint> footprint = footprint_by_hand(study.ground, Kind::other, other, file))
      all.push_back(*std::move(footprint));
  }
  Result<Measurement> seen = measure(study.photo, study.paint, study.ground, all, 0, study.coats.get());
  if (!seen) return {unmeasured(Colour::other, seen.problem().what), std::nullopt};
  // one photo, one pavement: as in assess, all markings tell together how faded each of them is. Ours keeps its place.
  std::vector<PaintOverPavement> paints;
  std::optional<std::size_t> ours;
  for (const auto& [other, paint] : study.paints) {
    if (other == id) ours = paints.size();
    paints.push_back(other == id ? seen->paint : paint);
  }
  if (!ours) ours = paints.size(), paints.push_back(seen->paint);
  Condition condition = std::move(seen->condition);
  condition.faded = fading_of(paints)[*ours];
  condition.appearance.faded = condition.faded.value;
  return {std::move(condition), std::move(seen->map)};
}

}  // namespace lotwear
