#include <gtest/gtest.h>

#include <opencv2/aruco.hpp>
#include <opencv2/imgproc.hpp>
#include <set>

#include "ground/sheet.hpp"

namespace lotwear {
namespace {

double gap(const Fiducial& a, const Fiducial& b) {
  const auto apart = [](double low_a, double high_a, double low_b, double high_b) {
    return std::max({low_a - high_b, low_b - high_a, 0.0});
  };
  return std::hypot(apart(a.x_mm, a.x_mm + a.side_mm, b.x_mm, b.x_mm + b.side_mm),
                    apart(a.y_mm, a.y_mm + a.side_mm, b.y_mm, b.y_mm + b.side_mm));
}

class Sheet : public testing::TestWithParam<Paper> {};
INSTANTIATE_TEST_SUITE_P(Papers, Sheet, testing::Values(Paper::letter, Paper::a4));

// Letter: 8.5 x 11 in. A4: ISO 216, 210 x 297 mm.
TEST_P(Sheet, HasThePapersSize) {
  const SheetLayout sheet = sheet_layout(GetParam());
  EXPECT_DOUBLE_EQ(sheet.width_mm, GetParam() == Paper::letter ? 8.5 * 25.4 : 210.0);
  EXPECT_DOUBLE_EQ(sheet.height_mm, GetParam() == Paper::letter ? 11 * 25.4 : 297.0);
}

TEST_P(Sheet, KeepsFiducialsInsideThePrintableAreaAndApart) {
  const SheetLayout sheet = sheet_layout(GetParam());
  for (std::size_t i = 0; i < sheet.fiducials.size(); ++i) {
    const Fiducial& a = sheet.fiducials[i];
    const double cell = a.side_mm / kFiducialCells;
    EXPECT_GE(std::min(a.x_mm, a.y_mm), cell);
    EXPECT_LE(a.x_mm + a.side_mm, sheet.width_mm - cell);
    EXPECT_LE(a.y_mm + a.side_mm, sheet.height_mm - cell);
    for (std::size_t j = 0; j < i; ++j)
      EXPECT_GE(gap(a, sheet.fiducials[j]), std::max(cell, 8.0)) << i << " and " << j;
  }
}

TEST_P(Sheet, KeepsTheRulerClearOfFiducials) {
  const SheetLayout sheet = sheet_layout(GetParam());
  const Fiducial ruler{0, sheet.ruler_x_mm, sheet.ruler_y_mm, 0};
  for (const Fiducial& f : sheet.fiducials) {
    const bool above = f.y_mm + f.side_mm + 8 <= ruler.y_mm, below = f.y_mm >= ruler.y_mm + 20;
    EXPECT_TRUE(above || below) << f.id;
  }
  EXPECT_LE(sheet.ruler_x_mm + sheet.ruler_mm, sheet.width_mm - 10);
}

TEST(Sheets, ShareNoFiducial) {
  std::set<int> ids;
  std::size_t count = 0;
  for (const Paper paper : {Paper::letter, Paper::a4}) {
    for (const Fiducial& f : sheet_layout(paper).fiducials) {
      ids.insert(f.id);
      ++count;
    }
  }
  EXPECT_EQ(ids.size(), count);
}

TEST(FiducialCells, AreReadByOpenCvsDetectorUprightWithTheSameId) {
  for (const Fiducial& f : sheet_layout(Paper::letter).fiducials) {
    const cv::Mat cells = fiducial_cells(f.id);
    ASSERT_EQ(cells.size(), cv::Size(kFiducialCells, kFiducialCells));
    cv::Mat picture(110, 110, CV_8U, cv::Scalar(255));
    cv::Mat enlarged;
    cv::resize(cells * 255, enlarged, {70, 70}, 0, 0, cv::INTER_NEAREST);
    enlarged.copyTo(picture(cv::Rect(20, 20, 70, 70)));
    std::vector<std::vector<cv::Point2f>> corners;
    std::vector<int> ids;
    cv::aruco::detectMarkers(picture, cv::aruco::getPredefinedDictionary(cv::aruco::DICT_5X5_50), corners, ids);
    ASSERT_EQ(ids, std::vector<int>{f.id});
    EXPECT_NEAR(corners[0][0].x, 20, 1.5);  // the first corner is the top-left one
    EXPECT_NEAR(corners[0][0].y, 20, 1.5);
  }
}

}  // namespace
}  // namespace lotwear
