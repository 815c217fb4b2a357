#include "views/sheet_drawing.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <regex>

#include "base/files.hpp"
#include "ground/fiducials.hpp"
#include "ground/find_sheet.hpp"

namespace lotwear {
namespace {

namespace fs = std::filesystem;

Photo photo_of(const cv::Mat& grey) {
  Photo photo;
  cv::cvtColor(grey, photo.rgb, cv::COLOR_GRAY2RGB);
  for (std::size_t i = 0; i < 256; ++i)
    photo.space.linear[i] = static_cast<float>(i) / 255.F;  // drawn, not photographed
  return photo;
}

/// Every fiducial of a picture of the whole page lies where the layout says, in millimetres by the picture's dots per
/// inch.
void expect_true_sizes(const cv::Mat& grey, Paper paper, double dpi) {
  const Photo photo = photo_of(grey);
  const RoughSheet rough = detect_sheet(photo);
  ASSERT_EQ(rough.paper, paper);
  const SheetLayout layout = sheet_layout(paper);
  ASSERT_EQ(rough.fiducials.size(), layout.fiducials.size());
  for (const Fiducial& f : layout.fiducials) {
    // Looked for a little beside the place where it must be.
    const auto at = [&](double x, double y) { return ImagePoint{x, y} * (dpi / 25.4) + ImagePoint{1.5, -1}; };
    const double right = f.x_mm + f.side_mm, low = f.y_mm + f.side_mm;
    const auto refined = refine_fiducial(
        photo, f.id, {at(f.x_mm, f.y_mm), at(right, f.y_mm), at(right, low), at(f.x_mm, low)}, kFiducialCells);
    ASSERT_TRUE(refined) << f.id;
    const auto mm = [&](std::size_t k) { return refined->corners[k] * (25.4 / dpi); };
    EXPECT_NEAR(mm(0).x, f.x_mm, 0.1) << f.id;
    EXPECT_NEAR(mm(0).y, f.y_mm, 0.1) << f.id;
    EXPECT_NEAR(mm(2).x, right, 0.1) << f.id;
    EXPECT_NEAR(mm(2).y, low, 0.1) << f.id;
  }
  // And as a photo from straight above: every length in proportion.
  const auto found = locate_sheet(photo);
  ASSERT_TRUE(found);
  EXPECT_EQ(found->fiducials, 8);
  const Ground ground = ground_of(found->belief.view, photo.rgb.size());
  const double across = length(ground.ground_from_image({0, 0.5 * grey.rows}) -
                               ground.ground_from_image({1.0 * grey.cols, 0.5 * grey.rows}));
  const double stated = find_sheet(photo)->scale_error->value;
  EXPECT_LT(stated, 0.02);
  EXPECT_NEAR(across, grey.cols / dpi * 25.4, std::max(0.2, 2 * stated * across));
}

TEST(SheetPng, HasTrueSizesAtEveryResolution) {
  for (const Paper paper : {Paper::letter, Paper::a4}) {
    for (const double dpi : {100.0, 150.0, 300.0}) {
      const std::string bytes = sheet_png(paper, dpi);
      const cv::Mat grey = cv::imdecode(std::vector<char>(bytes.begin(), bytes.end()), cv::IMREAD_GRAYSCALE);
      EXPECT_NEAR(grey.cols, sheet_layout(paper).width_mm / 25.4 * dpi, 0.51);
      EXPECT_NEAR(grey.rows, sheet_layout(paper).height_mm / 25.4 * dpi, 0.51);
      expect_true_sizes(grey, paper, dpi);
    }
  }
}

TEST(SheetPng, SaysItsDotsPerInch) {
  const std::string bytes = sheet_png(Paper::letter, 300);
  const auto chunk = bytes.find("pHYs");
  ASSERT_NE(chunk, std::string::npos);
  unsigned per_metre = 0;
  for (std::size_t i = 0; i < 4; ++i)
    per_metre = per_metre << 8U | static_cast<unsigned char>(bytes[chunk + 4 + i]);
  EXPECT_EQ(per_metre, 11811U);     // 300 / 0.0254
  EXPECT_EQ(bytes[chunk + 12], 1);  // per metre
}

// The check ruler: a line 6 inches long with a tick at every millimetre, on the picture where its layout says.
TEST(SheetPng, DrawsTheRulerAtTrueLength) {
  const double dpi = 600, per_mm = dpi / 25.4;
  const std::string bytes = sheet_png(Paper::a4, dpi);
  const cv::Mat grey = cv::imdecode(std::vector<char>(bytes.begin(), bytes.end()), cv::IMREAD_GRAYSCALE);
  const SheetLayout layout = sheet_layout(Paper::a4);
  const int row = static_cast<int>((layout.ruler_y_mm - 1) * per_mm);  // through the shortest ticks
  int ticks = 0, first = -1, last = -1;
  bool before = false;
  for (int x = static_cast<int>((layout.ruler_x_mm - 1) * per_mm);
       x < (layout.ruler_x_mm + layout.ruler_mm + 1) * per_mm; ++x) {
    const bool ink = grey.at<unsigned char>(row, x) < 128;
    if (ink && !before) {
      ++ticks;
      last = x;
      if (first < 0) first = x;
    }
    before = ink;
  }
  EXPECT_EQ(ticks, 151);
  EXPECT_NEAR((last - first) / per_mm, 150, 0.1);
}

// Letter 612 x 792 points; A4 (ISO 216) 210 x 297 mm.
TEST(SheetPdf, HasThePapersSizeInPoints) {
  const auto boxes = [](const std::string& pdf) {
    std::vector<std::pair<double, double>> found;
    const std::regex box(R"(/MediaBox \[ 0 0 ([0-9.]+) ([0-9.]+) \])");
    for (auto it = std::sregex_iterator(pdf.begin(), pdf.end(), box); it != std::sregex_iterator(); ++it) {
      found.emplace_back(std::stod((*it)[1]), std::stod((*it)[2]));
    }
    return found;
  };
  const auto pages = boxes(sheet_pdf({Paper::letter, Paper::a4}));
  ASSERT_EQ(pages.size(), 2U);
  EXPECT_NEAR(pages[0].first, 612, 0.01);
  EXPECT_NEAR(pages[0].second, 792, 0.01);
  EXPECT_NEAR(pages[1].first, 210 * 72 / 25.4, 0.01);
  EXPECT_NEAR(pages[1].second, 297 * 72 / 25.4, 0.01);
  EXPECT_EQ(boxes(sheet_pdf({Paper::a4})).size(), 1U);
}

TEST(SheetPdf, CarriesItsFontsAndNoDate) {
  const std::string pdf = sheet_pdf({Paper::letter});
  EXPECT_THAT(pdf, testing::HasSubstr("/FontFile2"));
  EXPECT_THAT(pdf, testing::Not(testing::HasSubstr("/CreationDate")));
  EXPECT_EQ(pdf, sheet_pdf({Paper::letter}));
}

TEST(SheetPdf, PrintsAtTrueSize) {
  if (std::system("command -v pdftoppm > /dev/null") != 0) {
    if (std::getenv("CI") != nullptr) FAIL() << "pdftoppm is missing; install poppler-utils";
    GTEST_SKIP() << "pdftoppm is missing; install poppler-utils to check the printed size";
  }
  for (const Paper paper : {Paper::letter, Paper::a4}) {
    const fs::path folder = fs::path(testing::TempDir()) / "sheet_pdf_prints";
    fs::create_directories(folder);
    write_file(folder / "sheet.pdf", sheet_pdf({paper}));
    const std::string command = "pdftoppm -r 300 -gray -singlefile '" + (folder / "sheet.pdf").string() + "' '" +
                                (folder / "page").string() + "'";
    ASSERT_EQ(std::system(command.c_str()), 0);
    const cv::Mat grey = cv::imread((folder / "page.pgm").string(), cv::IMREAD_GRAYSCALE);
    ASSERT_FALSE(grey.empty());
    expect_true_sizes(grey, paper, 300);
    fs::remove_all(folder);
  }
}

}  // namespace
}  // namespace lotwear
