#pragma once
// The photos of a walk overlap: one marking is seen in two or more. Each is counted once, by the photo that shows it
// best, and a marking too long for one photo gets its size from all that show a part of it. Marking is the same paint
// when the photos show the same ground (same_ground) and its outlines cover each other where both photos look.

#include <cstddef>
#include <opencv2/core/types.hpp>
#include <optional>
#include <string>
#include <vector>

#include "base/geometry.hpp"
#include "capture/photo.hpp"
#include "ground/ground.hpp"
#include "overlap/ground_look.hpp"

namespace lotwear {

struct SeenMarking {
  std::vector<GroundRing> rings;
  bool cut_off = false;   ///< it leaves the picture
  bool in_doubt = false;  ///< its outline or kind is
  double doubt = 0;       ///< width of the interval of what remains, and the chance that it is of another kind
};
struct SeenPhoto {
  std::optional<std::string> taken;
  std::optional<Position> position;
  cv::Size size;  ///< photo pixels
  ImageFromGround image_from_ground;
  GroundLook look;
  std::vector<SeenMarking> markings;
};

struct MarkingAt {
  std::size_t photo = 0, marking = 0;
  friend constexpr auto operator<=>(const MarkingAt&, const MarkingAt&) = default;
};
/// A marking that another photo shows better.
struct SeenAgain {
  MarkingAt which, better;
  double confidence = 0;  ///< 0 .. 1
};
/// A marking that goes on in other photos, beyond the edge of the one that shows it best.
struct SeenInParts {
  MarkingAt which;
  std::vector<MarkingAt> with;
  double area = 1, length = 1;  ///< of all parts over those of `which` alone
};
/// Two photos of one spot, for what one knows of its scale and the other does not.
struct SameSpot {
  std::size_t first = 0, second = 0;
  double second_over_first = 1;  ///< what is one long on the first's ground is this long on the second's
};
struct Overlaps {
  std::vector<SeenAgain> again;
  std::vector<SeenInParts> parts;
  std::vector<SameSpot> spots;
};

/// Photos that may overlap: taken within minutes and metres of each other, as far as they know when and where; those
/// that know neither, next to each other in the list.
std::vector<std::pair<std::size_t, std::size_t>> near_pairs(const std::vector<SeenPhoto>& photos);

/// The same for any number of threads.
Overlaps find_overlaps(const std::vector<SeenPhoto>& photos, unsigned threads);

}  // namespace lotwear
