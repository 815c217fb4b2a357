#include "survey/survey.hpp"

#include <algorithm>
#include <limits>

namespace lotwear {

namespace {

constexpr double kMmPerM = 1000;

/// Longer and shorter side of the smallest rectangle around the points: one of its sides lies along a side of their
/// hull.
std::pair<double, double> sides_of_smallest_box(std::vector<GroundPoint> points) {
  std::sort(points.begin(), points.end(),
            [](GroundPoint a, GroundPoint b) { return a.x != b.x ? a.x < b.x : a.y < b.y; });
  std::vector<GroundPoint> hull;  // monotone chain, Andrew 1979: lower hull, then upper hull
  for (int half = 0; half < 2; ++half) {
    const std::size_t start = hull.size();
    for (const GroundPoint& p : points) {
      while (hull.size() >= start + 2 && cross(hull.back() - hull[hull.size() - 2], p - hull.back()) <= 0)
        hull.pop_back();
      hull.push_back(p);
    }
    hull.pop_back();
    std::reverse(points.begin(), points.end());
  }
  double best_area = std::numeric_limits<double>::infinity(), longer = 0, shorter = 0;
  for (std::size_t i = 0; i < hull.size(); ++i) {
    const GroundPoint side = hull[(i + 1) % hull.size()] - hull[i];
    if (length(side) == 0) continue;
    const GroundPoint along = side * (1 / length(side));
    double low_u = std::numeric_limits<double>::infinity(), high_u = -low_u, low_v = low_u, high_v = -low_u;
    for (const GroundPoint& p : hull) {
      const double u = dot(along, p), v = cross(along, p);
      low_u = std::min(low_u, u), high_u = std::max(high_u, u);
      low_v = std::min(low_v, v), high_v = std::max(high_v, v);
    }
    const double a = high_u - low_u, b = high_v - low_v;
    if (a * b < best_area) best_area = a * b, longer = std::max(a, b), shorter = std::min(a, b);
  }
  return {longer, shorter};
}

std::optional<Size> size_by_plane(const std::vector<ImageRing>& outline, const SurveyPhoto::Plane& plane) {
  if (!plane.scale_error_percent || outline.empty()) return std::nullopt;
  const GroundFromImage ground_from_image(plane.image_to_ground);
  Size size;
  std::vector<GroundPoint> points;
  bool above_horizon = false, below_horizon = false;
  for (const ImageRing& ring : outline) {
    for (const ImagePoint& p : ring) {
      (ground_from_image.depth(p) > 0 ? above_horizon : below_horizon) = true;
    }
    const GroundRing on_ground = ground_from_image(ring);
    size.area_m2 += area(on_ground) / (kMmPerM * kMmPerM);
    size.perimeter_m += perimeter(on_ground) / kMmPerM;
    points.insert(points.end(), on_ground.begin(), on_ground.end());
  }
  if (above_horizon && below_horizon) return std::nullopt;
  const auto [longer, shorter] = sides_of_smallest_box(std::move(points));
  size.length_m = longer / kMmPerM;
  size.width_m = shorter / kMmPerM;
  size.error = {*plane.scale_error_percent / 100};
  return size;
}

}  // namespace

Kind kind_of(const SurveyMarking& marking) { return marking.person().kind.value_or(marking.kind); }

std::string words_of(const SurveyMarking& marking) {
  return kind_of(marking) == Kind::legend ? marking.words : std::string();
}

Colour colour_of(const SurveyMarking& marking) { return marking.person().colour.value_or(marking.condition.colour); }

std::vector<ImageRing> outline_of(const SurveyMarking& marking) {
  return marking.person().outline.value_or(marking.outline);
}

Condition condition_of(const SurveyMarking& marking) { return marking.person().measured.value_or(marking.condition); }

bool is_false_alarm(const SurveyMarking& marking) { return marking.person().false_alarm.value_or(false); }

Decision decision_of(const SurveyMarking& marking, const Policy& policy) {
  if (marking.person_json.empty() || marking.person_json == "null") return marking.decision;
  const PersonSays said = marking.person();
  return decide(said.measured.value_or(marking.condition), marking.kind, policy, said);
}

std::optional<std::string> repeats(const SurveyMarking& marking) {
  const PersonSays said = marking.person();
  const std::optional<std::string>& other = said.same_as ? said.same_as : marking.same_as;
  return other == marking.id ? std::nullopt : other;
}

std::optional<Size> size_of(const SurveyMarking& marking, const Survey& survey) {
  const PersonSays said = marking.person();
  if (said.measured) return said.measured->size;
  if (!said.outline) return marking.condition.size;
  for (const SurveyPhoto& photo : survey.photos) {
    if (photo.file == marking.photo && photo.plane) return size_by_plane(*said.outline, *photo.plane);
  }
  return std::nullopt;
}

}  // namespace lotwear
