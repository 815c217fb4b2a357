#pragma once
// The three evidence pictures of a marking, colour-blind safe.

#include <filesystem>
#include <string>
#include <vector>

#include "capture/photo.hpp"
#include "measure/measure.hpp"

namespace lotwear {

struct EvidenceFiles { std::string photo, plan, loss; };  ///< relative to the survey folder

/// Writes evidence/<id>-photo.jpg (outline drawn on a crop of the photo with surroundings), -plan.jpg (seen from above) and
/// -loss.png (what is left and what was lost, by cause, with a key). Atomically. Throws Failure when it cannot.
EvidenceFiles write_evidence(const Photo& photo, const std::vector<ImageRing>& outline, const LossMap& map,
                             const std::string& id, const std::filesystem::path& survey_folder);

}  // namespace lotwear
