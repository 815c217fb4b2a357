#pragma once
// The scale sheet as something to print: fiducials from sheet_layout(), a check ruler and four sentences, at true size.

#include <string>
#include <vector>

#include "ground/sheet.hpp"

namespace lotwear {

/// Bytes of a PDF (vector squares, embedded fonts), one page a paper. No dates: same papers, same bytes.
/// Throws Failure when the drawing library refuses.
std::string sheet_pdf(const std::vector<Paper>& papers);

/// Bytes of an 8-bit grey PNG of one sheet that carries its dots per inch, so that printing it at 100 % is true too.
/// dpi  between kSheetDpiLow and kSheetDpiHigh
std::string sheet_png(Paper paper, double dpi);

inline constexpr double kSheetDpiLow = 72;    ///< a small fiducial's cell is then 14 pixels
inline constexpr double kSheetDpiHigh = 600;  ///< 33 megapixels; printers resolve no more

}  // namespace lotwear
