#pragma once

#include <string>

namespace lotwear {

/// The report's style sheet, made from the palette: light, dark and print.
std::string report_style();

/// The palette alone, as custom properties for light and for dark: for other pages of ours.
std::string page_inks();

}  // namespace lotwear
