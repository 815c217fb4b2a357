#include "review/outline_check.hpp"

#include <fmt/format.h>

#include <cmath>

namespace lotwear {

namespace {

constexpr std::size_t kMostCorners = 5000, kMostRings = 500;
constexpr double kLeastAreaPx = 16;  // smaller cannot be seen, let alone measured

}  // namespace

std::optional<std::string> fault_of(const std::vector<ImageRing>& outline, const SurveyPhoto& photo) {
  std::size_t corners = 0;
  if (outline.empty() || outline.size() > kMostRings) return "an outline has at least one ring";
  for (const ImageRing& ring : outline) {
    corners += ring.size();
    if (ring.size() < 3) return "a ring has at least three corners";
    if (area(ring) < kLeastAreaPx) return "a ring is too small to hold a marking";
    for (const ImagePoint& p : ring) {
      const bool near = std::abs(p.x) <= 2.0 * photo.width && std::abs(p.y) <= 2.0 * photo.height;
      if (!near) return "a corner lies far outside the photo";
    }
  }
  if (corners > kMostCorners) return fmt::format("an outline may have {} corners", kMostCorners);
  return std::nullopt;
}

std::vector<ImageRing> as_stored(std::vector<ImageRing> outline) {
  for (ImageRing& ring : outline) {
    for (ImagePoint& p : ring)
      p = {std::round(p.x * 10) / 10, std::round(p.y * 10) / 10};
  }
  return outline;
}

}  // namespace lotwear
