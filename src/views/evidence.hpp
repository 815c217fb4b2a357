#pragma once
// The three evidence pictures of a marking, colour-blind safe and small: evidence must not cost more than the
// measuring.

#include <filesystem>
#include <string>
#include <vector>

#include "views/marking_pictures.hpp"

namespace lotwear {

struct EvidenceFiles {
  std::string photo, plan, loss;  ///< relative to the survey folder
};

/// Writes evidence/<id>-photo.jpg (outline drawn on a part of the photo with surroundings), -plan.jpg (seen from above)
/// and -loss.png (what is left and what was lost, by cause, with a key). Atomically. Throws Failure when it cannot. id
/// letters, digits, `-` and `_` only: it becomes part of a file name scale  true_millimetres draws a scale bar under
/// the plan view
EvidenceFiles write_evidence(const Photo& photo, const std::vector<ImageRing>& outline, const LossMap& map,
                             const std::string& id, const std::filesystem::path& survey_folder,
                             PlanScale scale = PlanScale::nominal, const std::string& tag = "");

}  // namespace lotwear
