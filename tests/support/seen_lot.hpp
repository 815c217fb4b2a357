#pragma once
// A rendered lot as `overlap` would see it if plane and outlines were known exactly. Only for tests that link
// lotwear_render and lotwear_overlap.

#include <functional>

#include "overlap/seen_again.hpp"
#include "rendering/render.hpp"
#include "support/scratch_folder.hpp"

namespace lotwear::test {

/// `alter`: changes the photo's pixels first.
inline SeenPhoto seen_lot(const rendering::ScenePlan& plan, const std::function<void(cv::Mat&)>& alter = {}) {
  static const ScratchFolder folder;
  const rendering::Rendered made = rendering::render(plan);
  Result<Photo> photo = read_photo(folder.put(plan.name + ".jpg", made.photo));
  if (alter) alter(photo->rgb);
  Ground ground;
  ground.ground_from_image = made.truth.ground_from_image;
  ground.image_from_ground = ground.ground_from_image.inverse();
  SeenPhoto seen;
  seen.taken = photo->taken, seen.position = photo->position, seen.size = photo->rgb.size();
  seen.image_from_ground = ground.image_from_ground;
  std::vector<Footprint> footprints;
  for (const rendering::MarkingPlan& marking : plan.markings) {
    footprints.emplace_back();
    footprints.back().rings = marking.rings;
    seen.markings.push_back({marking.rings, false, false, 0.1});
  }
  seen.look = look_at_ground(*photo, ground, footprints);
  return seen;
}

}  // namespace lotwear::test
