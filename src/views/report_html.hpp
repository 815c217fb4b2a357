#pragma once
// The report as one self-contained HTML file.

#include <string>

#include "views/report_content.hpp"

namespace lotwear {

/// UTF-8. Pictures are data: URIs; no script, and the page itself forbids loading anything from anywhere. Same content,
/// same bytes.
std::string report_html(const ReportContent& content);

}  // namespace lotwear
