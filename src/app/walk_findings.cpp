#include "app/walk_findings.hpp"

#include <fmt/format.h>

#include <cmath>
#include <set>
#include <string>
#include <utility>

namespace lotwear {

namespace {

/// Lengths of a photo on another belief of its scale. Shares do not change, and neither do pictures: what was known
/// this badly bears no scale. `error` and `error_before`: of the belief, as a share.
void hold_at(PhotoFindings& findings, double by, double error, double error_before) {
  SurveyPhoto::Plane& plane = *findings.photo.plane;
  for (std::size_t i = 0; i < 6; ++i)
    plane.image_to_ground[i] *= by;
  const auto with_belief = [&](double all) {
    return std::sqrt(std::max(0.0, all * all - error_before * error_before) + error * error);
  };
  plane.scale_error_percent = 100 * with_belief(*plane.scale_error_percent / 100);
  for (SurveyMarking& marking : findings.markings) {
    if (!marking.condition.size) continue;
    Size& size = *marking.condition.size;
    size.area_m2 *= by * by;
    for (double* const one : {&size.length_m, &size.width_m, &size.perimeter_m})
      *one *= by;
    size.error = Fraction{with_belief(size.error.value)};
  }
}

}  // namespace

void hold_by_walk(std::vector<PhotoFindings>& all) {
  std::vector<WalkPhoto> photos;
  for (const PhotoFindings& findings : all)
    photos.push_back(findings.walk);
  const std::vector<std::optional<CameraHeight>> heights = heights_by_walk(photos);
  for (std::size_t i = 0; i < all.size(); ++i) {
    if (!heights[i] || !all[i].height_assumed) continue;
    const CameraHeight height = photos[i].seen ? together(*heights[i], *photos[i].seen) : *heights[i];
    const CameraHeight before = *all[i].height_assumed;
    if (height.error < before.error)
      hold_at(all[i], std::exp(height.log_mm - before.log_mm), height.error, before.error);
  }
}

void hold_by_overlap(std::vector<PhotoFindings>& all, const std::vector<SameSpot>& spots) {
  constexpr double kMapError = 0.015;  // of lengths from one ground to the other
  constexpr double kFarBetter = 0.5;
  struct Better {
    double by = 1, error = 0;
    std::string source;
  };
  const auto error_of = [](const PhotoFindings& one) -> std::optional<double> {
    const auto& plane = one.photo.plane;
    return plane && plane->scale_error_percent ? std::optional(*plane->scale_error_percent / 100) : std::nullopt;
  };
  std::vector<std::optional<Better>> better(all.size());
  const auto offer = [&](std::size_t to, std::size_t from, double to_over_from) {
    const auto before = error_of(all[to]), theirs = error_of(all[from]);
    if (!before || !theirs) return;
    const double error = std::hypot(*theirs, kMapError);
    if (error < kFarBetter * *before && (!better[to] || error < better[to]->error))
      better[to] = {1 / to_over_from, error, all[from].photo.plane->source};
  };
  for (const SameSpot& spot : spots) {
    offer(spot.second, spot.first, spot.second_over_first);
    offer(spot.first, spot.second, 1 / spot.second_over_first);
  }
  for (std::size_t i = 0; i < all.size(); ++i) {
    if (!better[i]) continue;
    hold_at(all[i], better[i]->by, better[i]->error, *error_of(all[i]));
    all[i].photo.plane->source = better[i]->source;
    all[i].height_assumed.reset();
  }
}

void join_parts(std::vector<PhotoFindings>& all, const std::vector<SeenInParts>& parts) {
  for (const SeenInParts& one : parts) {
    SurveyMarking& marking = all[one.which.photo].markings[one.which.marking];
    std::string photos;
    for (const MarkingAt& other : one.with)
      photos += (photos.empty() ? "" : " and ") + all[other.photo].photo.file;
    if (marking.condition.size) {
      Size& size = *marking.condition.size;
      const double added_m2 = (one.area - 1) * size.area_m2;
      if (size.width_m > 0) size.perimeter_m += 2 * added_m2 / size.width_m;
      size.area_m2 += added_m2;
      size.length_m *= one.length;
    }
    marking.decision.reasons.push_back(fmt::format(
        "it goes on in {}: its length and area are of all parts seen, what is left of the part in this photo", photos));
  }
}

std::vector<SeenPhoto> seen_photos(std::vector<PhotoFindings>& all) {
  std::vector<SeenPhoto> seen;
  std::set<std::string> hashes;
  for (PhotoFindings& findings : all) {
    const bool fresh = hashes.insert(findings.photo.sha256).second;
    seen.push_back(fresh ? std::move(findings.seen) : SeenPhoto{});
  }
  return seen;
}

void compare_views(SurveyMarking& counted, const SurveyMarking& other) {
  const Interval &a = counted.condition.remaining, &b = other.condition.remaining;
  const bool same_share = a.low.value <= b.high.value && b.low.value <= a.high.value;
  if (counted.kind == other.kind && same_share) return;
  counted.decision.needs_review = true;
  counted.decision.reasons.push_back(
      counted.kind != other.kind
          ? fmt::format("{} shows the same paint and it looks like another kind there ({}): look at both", other.photo,
                        word(other.kind))
          : fmt::format("{} shows the same paint with {:.0f} % left: look at both", other.photo, percent(b.value)));
}

}  // namespace lotwear
