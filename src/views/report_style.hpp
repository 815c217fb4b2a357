#pragma once

#include <string>

namespace lotwear {

/// The report's style sheet, made from the palette: light, dark and print.
std::string report_style();

/// The palette alone, as custom properties for light and for dark: for other pages of ours.
std::string page_inks();
/// The same for a page on which the reader chooses (data-theme on the root), and the causes of loss as --s-flaked etc.
std::string page_inks_by_choice();

}  // namespace lotwear
