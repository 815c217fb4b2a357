#pragma once
// photo-folders.json beside survey.json: where `assess` found the photos, so that `review` can show them. The survey
// itself names photos by file name and content only; it goes to other people, and folders are nobody's business.

#include <filesystem>
#include <vector>

#include "base/trouble.hpp"
#include "survey/survey.hpp"

namespace lotwear {

/// Folders of these photo files, as seen from the survey folder.
void save_photo_folders(const std::filesystem::path& survey_folder, const std::vector<std::filesystem::path>& photos);

/// Where a photo of the survey may lie: `also` first, then the folders remembered, then the survey folder, the one
/// around it and `photos` beside it. A folder that is not there is left out.
std::vector<std::filesystem::path> photo_folders(const std::filesystem::path& survey_folder,
                                                 const std::vector<std::filesystem::path>& also);

/// The photo's file: in one of the folders itself, under its own name. Problem: it is in none of them, or its name is
/// no file name. Its content is not looked at.
Result<std::filesystem::path> find_photo(const SurveyPhoto& photo, const std::vector<std::filesystem::path>& folders);

}  // namespace lotwear
