#pragma once
// Where the files under models/ are: LOTWEAR_MODELS, else beside the installed program, else in the source tree.

#include <filesystem>

namespace lotwear {

/// Throws Failure when no folder with the model files is found.
std::filesystem::path models_folder();

}  // namespace lotwear
