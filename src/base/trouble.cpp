#include "base/trouble.hpp"

#include <fmt/format.h>

#include <filesystem>

namespace lotwear {

void require(bool kept, const char* promise, std::source_location where) {
  if (kept) return;
  throw Broken(fmt::format("internal error: {} ({}:{})", promise,
                           std::filesystem::path(where.file_name()).filename().string(), where.line()));
}

}  // namespace lotwear
