#pragma once
// The page's files as they lie in src/review/page, built into the program: it needs no folder and no network.

#include <optional>
#include <string_view>

namespace lotwear {

struct PageFile {
  std::string_view name, type, bytes;
};

std::optional<PageFile> page_file(std::string_view name);

}  // namespace lotwear
