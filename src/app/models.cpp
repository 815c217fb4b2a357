#include "app/models.hpp"

#include <cstdlib>

#include "base/trouble.hpp"

namespace lotwear {

std::filesystem::path models_folder() {
  namespace fs = std::filesystem;
  const auto holds_models = [](const fs::path& folder) { return fs::exists(folder / "policy.json"); };
  if (const char* named = std::getenv("LOTWEAR_MODELS")) {
    if (holds_models(named)) return named;
    throw Failure(std::string(named) + ": LOTWEAR_MODELS names a folder without policy.json; unset it or correct it");
  }
  std::error_code error;
  const fs::path program = fs::read_symlink("/proc/self/exe", error);
  if (!error) {
    const fs::path installed = program.parent_path().parent_path() / "share" / "lotwear" / "models";
    if (holds_models(installed)) return installed;
  }
  if (holds_models(LOTWEAR_SOURCE_MODELS)) return LOTWEAR_SOURCE_MODELS;
  throw Failure("the folder models/ was not found beside the program; set LOTWEAR_MODELS to it");
}

}  // namespace lotwear
