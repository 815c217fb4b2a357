#include <algorithm>
#include <nlohmann/json.hpp>
#include <set>

#include "base/files.hpp"
#include "policy/fields.hpp"
#include "survey/photo_folders.hpp"
#include "survey/text_json.hpp"

namespace lotwear {

namespace fs = std::filesystem;

namespace {

constexpr const char* kName = "photo-folders.json";
constexpr std::size_t kLargest = std::size_t{1} << 20;

std::vector<std::string> remembered(const fs::path& survey_folder) {
  try {
    return Fields::of_text(read_file(survey_folder / kName, kLargest), kName).texts("folders");
  } catch (const Failure&) {
    return {};  // only a help: the other places are looked at all the same
  }
}

}  // namespace

void save_photo_folders(const fs::path& survey_folder, const std::vector<fs::path>& photos) {
  std::set<std::string> folders;
  std::error_code error;
  const fs::path here = fs::weakly_canonical(survey_folder, error);
  for (const fs::path& photo : photos) {
    const fs::path folder = fs::weakly_canonical(photo, error).parent_path();
    const fs::path seen = folder.lexically_relative(here);
    folders.insert(seen.empty() ? folder.string() : seen.string());
  }
  nlohmann::ordered_json out = {{"folders", folders}};
  write_file(survey_folder / kName, readable(out));
}

std::vector<fs::path> photo_folders(const fs::path& survey_folder, const std::vector<fs::path>& also) {
  std::vector<fs::path> wanted = also;
  for (const std::string& folder : remembered(survey_folder))
    wanted.push_back(survey_folder / folder);
  wanted.insert(wanted.end(), {survey_folder, survey_folder / "..", survey_folder / ".." / "photos"});
  std::vector<fs::path> found;
  for (const fs::path& folder : wanted) {
    std::error_code error;
    const fs::path real = fs::canonical(folder, error);
    if (error || !fs::is_directory(real, error) || std::find(found.begin(), found.end(), real) != found.end()) continue;
    found.push_back(real);
  }
  return found;
}

Result<fs::path> find_photo(const SurveyPhoto& photo, const std::vector<fs::path>& folders) {
  const bool is_name = !photo.file.empty() && photo.file != "." && photo.file != ".." &&
                       photo.file.find('/') == std::string::npos && photo.file.find('\0') == std::string::npos;
  if (!is_name) return Problem{photo.file, "is no file name; the photo is not shown"};
  for (const fs::path& folder : folders) {
    std::error_code error;
    if (fs::is_regular_file(folder / photo.file, error)) return folder / photo.file;
  }
  return Problem{photo.file, "was not found; close the review and start it again with --photos and the photos' folder"};
}

}  // namespace lotwear
