#pragma once
// Evidence pictures on their way into a report. A survey is a file that anybody can have edited: what it names is taken
// only from inside its folder, and only if it is a JPEG or a PNG of sensible size.

#include <filesystem>
#include <string>

#include "views/report_content.hpp"

namespace lotwear {

/// The picture with its size, or the reason in `missing`.
ReportPicture read_picture(const std::filesystem::path& folder, const std::string& named);

}  // namespace lotwear
