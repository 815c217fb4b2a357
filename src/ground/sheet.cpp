#include "ground/sheet.hpp"

#include <opencv2/aruco.hpp>

#include "base/trouble.hpp"

namespace lotwear {

namespace {

constexpr double kMargin = 15;      // printers leave out up to 6 mm; the rest is the white border the detector needs
constexpr double kLargeSide = 77;   // cells of 11 mm
constexpr double kSmallSide = 35;   // cells of 5 mm
constexpr double kQuiet = 11;       // white between fiducials, one large cell
constexpr int kFirstLetterId = 20;  // away from 0, the id that most other prints start with
constexpr int kFirstA4Id = 30;

}  // namespace

SheetLayout sheet_layout(Paper paper) {
  SheetLayout sheet;
  sheet.paper = paper;
  sheet.width_mm = paper == Paper::letter ? 215.9 : 210.0;
  sheet.height_mm = paper == Paper::letter ? 279.4 : 297.0;
  int id = paper == Paper::letter ? kFirstLetterId : kFirstA4Id;
  for (const double y : {kMargin, sheet.height_mm - kMargin - kLargeSide}) {
    for (const double x : {kMargin, sheet.width_mm - kMargin - kLargeSide}) {
      sheet.fiducials.push_back({id++, x, y, kLargeSide});
    }
  }
  const double row_y = kMargin + kLargeSide + kQuiet;
  const double step = (sheet.width_mm - 2 * kMargin - kSmallSide) / 3;
  for (int i = 0; i < 4; ++i)
    sheet.fiducials.push_back({id++, kMargin + i * step, row_y, kSmallSide});
  sheet.ruler_mm = 150;
  sheet.ruler_x_mm = (sheet.width_mm - sheet.ruler_mm) / 2;
  sheet.ruler_y_mm = row_y + kSmallSide + 12;
  return sheet;
}

cv::Mat fiducial_cells(int id) {
  const auto dictionary = cv::aruco::getPredefinedDictionary(cv::aruco::DICT_5X5_50);
  require(id >= 0 && id < dictionary->bytesList.rows, "a fiducial id lies inside its dictionary");
  cv::Mat drawn;
  cv::aruco::drawMarker(dictionary, id, kFiducialCells, drawn, 1);
  return (drawn > 0) / 255;
}

}  // namespace lotwear
