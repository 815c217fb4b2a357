#pragma once

#include <string>

namespace lotwear {

/// The report's style sheet, made from the palette: light, dark and print.
std::string report_style();

}  // namespace lotwear
