// Checks against photos and values that others published. Each test names its source.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <numbers>
#include <opencv2/aruco.hpp>
#include <opencv2/calib3d.hpp>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <regex>

#include "ground/fiducials.hpp"
#include "ground/ground.hpp"
#include "ground/opencv_points.hpp"
#include "ground/sheet_pose.hpp"
#include "support/public_data.hpp"

namespace lotwear {
namespace {

namespace fs = std::filesystem;

// ---- udacity/self-driving-car, right-camera calibration: 640 x 480 chessboard photos with 9 x 6 inner corners and the
// intrinsics published beside them (ost.yaml, computed upstream from 48 photos).

const cv::Size kBoard(9, 6);
constexpr double kSquareMm = 100;  // not published: any size, the checks are ratios
const cv::Matx33d kPublishedCamera(2152.445406, 0, 268.010970, 0, 2166.161453, 302.594211, 0, 0, 1);
const cv::Vec<double, 5> kPublishedBend(-0.041740, -0.890952, 0.014123, -0.007406, 0);

struct Board {
  std::string file;
  std::vector<cv::Point2f> seen;     ///< as in the photo
  std::vector<ImagePoint> straight;  ///< as a straight lens with square pixels and a centred axis would see it
};

constexpr double kFocal = 2159;  // between the published 2152 and 2166; the straightened corners use it
const cv::Size kPhoto(640, 480);

std::vector<Board> boards() {
  std::vector<fs::path> files;
  for (const auto& entry : fs::directory_iterator(test::public_data("udacity-chessboards/right_camera"))) {
    if (entry.path().extension() == ".png") files.push_back(entry.path());
  }
  std::sort(files.begin(), files.end());
  std::vector<Board> found;
  for (const fs::path& file : files) {
    const cv::Mat grey = cv::imread(file.string(), cv::IMREAD_GRAYSCALE);
    Board board{file.filename().string(), {}, {}};
    if (!cv::findChessboardCorners(grey, kBoard, board.seen)) continue;
    cv::cornerSubPix(grey, board.seen, {11, 11}, {-1, -1}, {cv::TermCriteria::COUNT + cv::TermCriteria::EPS, 30, 0.01});
    // Either end first, as OpenCV finds it: a sheet is seen from above, so its corners must run clockwise.
    const cv::Point2f right = board.seen[8] - board.seen[0], down = board.seen[45] - board.seen[0];
    if (right.x * down.y - right.y * down.x < 0) continue;
    std::vector<cv::Point2f> rays;
    cv::undistortPoints(board.seen, rays, kPublishedCamera, kPublishedBend);
    for (const cv::Point2f r : rays) {
      board.straight.push_back({kFocal * static_cast<double>(r.x) + 320, kFocal * static_cast<double>(r.y) + 240});
    }
    found.push_back(board);
  }
  return found;
}

std::vector<SheetCorner> corners_of(const Board& board, int columns) {
  std::vector<SheetCorner> corners;
  for (int row = 0; row < kBoard.height; ++row) {
    for (int column = 0; column < columns; ++column) {
      SheetCorner c;
      c.x_mm = column * kSquareMm;
      c.y_mm = row * kSquareMm;
      c.seen = board.straight[static_cast<std::size_t>(row * kBoard.width + column)];
      c.error_px = 0.6;  // grainy, overexposed photos: residuals of OpenCV's own fit
      corners.push_back(c);
    }
  }
  return corners;
}

std::optional<SheetPose> pose_of(const Board& board, int columns) {
  return sheet_pose(corners_of(board, columns), {kFocal, true}, kPhoto,
                    {kBoard.width * kSquareMm, kBoard.height * kSquareMm});
}

TEST(Chessboards, LieAsOpenCvAndThePublishedLensSay) {
  LOTWEAR_NEEDS_PUBLIC_DATA("udacity-chessboards");
  const std::vector<Board> all = boards();
  ASSERT_GE(all.size(), 8U);
  for (const Board& board : all) {
    const auto pose = pose_of(board, kBoard.width);
    ASSERT_TRUE(pose) << board.file;
    std::vector<cv::Point3f> on_board;
    for (int i = 0; i < kBoard.area(); ++i) {
      on_board.emplace_back(static_cast<float>(i % kBoard.width * kSquareMm),
                            static_cast<float>(i / kBoard.width * kSquareMm), 0.F);
    }
    cv::Vec3d turn, shift;
    cv::solvePnP(on_board, board.seen, kPublishedCamera, kPublishedBend, turn, shift);
    cv::Matx33d rotation;
    cv::Rodrigues(turn, rotation);
    const cv::Vec3d normal(rotation(0, 2), rotation(1, 2), rotation(2, 2));
    const auto down = down_of(pose->belief.view);
    const double apart =
        std::acos(std::min(1.0, cv::Vec3d(down[0], down[1], down[2]).dot(normal))) * 180 / std::numbers::pi;
    // A board in a hand 2 m from a 17-degree lens: its tilt is known to a few degrees.
    const double stated =
        std::sqrt(pose->belief.covariance(0, 0) + pose->belief.covariance(1, 1)) * 180 / std::numbers::pi;
    EXPECT_LT(apart, std::max(2.0, 4 * stated)) << board.file;
    EXPECT_NEAR(std::exp(pose->belief.view.log_height) / normal.dot(shift), 1, 0.05) << board.file;
  }
}

// The plane from five of nine columns of corners predicts the other four, as lengths on the board.
TEST(Chessboards, MeasureTrueWhereThePlaneWasNotFitted) {
  LOTWEAR_NEEDS_PUBLIC_DATA("udacity-chessboards");
  double squares = 0;
  int lengths = 0;
  for (const Board& board : boards()) {
    const auto pose = pose_of(board, 5);
    ASSERT_TRUE(pose) << board.file;
    const Ground ground = ground_of(pose->belief.view, kPhoto);
    const auto at = [&](int row, int column) {
      return ground.ground_from_image(board.straight[static_cast<std::size_t>(row * kBoard.width + column)]);
    };
    for (int row = 0; row < kBoard.height; ++row) {
      const double along = length(at(row, 8) - at(row, 5)) / (3 * kSquareMm) - 1;
      EXPECT_NEAR(along, 0, 0.05) << board.file;
      squares += along * along;
      ++lengths;
    }
    for (int column = 5; column < kBoard.width; ++column) {
      const double across = length(at(5, column) - at(0, column)) / (5 * kSquareMm) - 1;
      EXPECT_NEAR(across, 0, 0.05) << board.file;
      squares += across * across;
      ++lengths;
    }
  }
  EXPECT_LT(std::sqrt(squares / lengths), 0.015);
}

// ---- AprilRobotics/apriltag, test/data: photos of a striped lot by NASA/KSC (CC BY-SA 2.0) with the corners that the
// upstream detector is expected to find. All tags are 36h11, 8 cells a side with their border.

std::vector<std::array<ImagePoint, 4>> published_corners(const fs::path& file) {
  std::vector<std::array<ImagePoint, 4>> tags;
  std::ifstream in(file);
  const std::regex number(R"(\(([-0-9.]+) ([-0-9.]+)\))");
  for (std::string line; std::getline(in, line);) {
    std::array<ImagePoint, 4> tag;
    std::size_t k = 0;
    for (auto it = std::sregex_iterator(line.begin(), line.end(), number); it != std::sregex_iterator() && k < 4;
         ++it) {
      tag[k++] = {std::stod((*it)[1]), std::stod((*it)[2])};
    }
    if (k == 4) tags.push_back(tag);
  }
  return tags;
}

TEST(AprilTags, CornersAgreeWithThePublishedOnes) {
  LOTWEAR_NEEDS_PUBLIC_DATA("nasa-lot-apriltag");
  std::vector<double> apart;
  for (const char* name : {"33369213973_9d9bb4cc96_c", "34085369442_304b6bafd9_c"}) {
    const fs::path set = test::public_data("nasa-lot-apriltag");
    const auto published = published_corners(set / "corners_upstream" / (std::string(name) + ".txt"));
    ASSERT_FALSE(published.empty());
    Photo photo;
    cv::cvtColor(cv::imread((set / "images" / (std::string(name) + ".jpg")).string()), photo.rgb, cv::COLOR_BGR2RGB);
    for (std::size_t i = 0; i < 256; ++i)
      photo.space.linear[i] = static_cast<float>(std::pow(static_cast<double>(i) / 255, 2.2));
    cv::Mat grey;
    cv::cvtColor(photo.rgb, grey, cv::COLOR_RGB2GRAY);
    const auto parameters = cv::aruco::DetectorParameters::create();
    parameters->minMarkerPerimeterRate = 0.02;
    std::vector<std::vector<cv::Point2f>> quads;
    std::vector<int> ids;
    cv::aruco::detectMarkers(grey, cv::aruco::getPredefinedDictionary(cv::aruco::DICT_APRILTAG_36h11), quads, ids,
                             parameters);
    for (std::size_t i = 0; i < ids.size(); ++i) {
      EXPECT_EQ(ids[i], 0);
      std::array<ImagePoint, 4> rough;
      for (std::size_t k = 0; k < 4; ++k)
        rough[k] = from_opencv(quads[i][k]);
      const auto refined = refine_fiducial(photo, ids[i], rough, 8);
      if (!refined) continue;
      for (const ImagePoint corner : refined->corners) {
        double nearest = 1e9;
        for (const auto& tag : published) {
          for (const ImagePoint p : tag)
            nearest = std::min(nearest, length(p - corner));
        }
        apart.push_back(nearest);
      }
    }
  }
  ASSERT_GE(apart.size(), 40U);
  std::sort(apart.begin(), apart.end());
  RecordProperty("median_px", std::to_string(apart[apart.size() / 2]));
  // Tags of 15 to 30 pixels in sharpened JPEGs of 799 x 533; two ways to fit the same edges.
  EXPECT_LT(apart[apart.size() / 2], 0.5);
  EXPECT_LT(apart[apart.size() * 9 / 10], 1.2);
}

// ---- udacity/CarND-LaneLines-P1: a road seen by a level car camera, 960 x 540. Where the lane lines meet was read off
// by hand, (488, 312) to about 6 pixels.

TEST(Lanes, MeetOnTheHorizonOfTheGroundFound) {
  LOTWEAR_NEEDS_PUBLIC_DATA("udacity-lanes");
  Photo photo;
  photo.file = "solidWhiteRight.jpg";
  cv::Mat bgr = cv::imread((test::public_data("udacity-lanes") / "images" / photo.file).string());
  cv::cvtColor(bgr, photo.rgb, cv::COLOR_BGR2RGB);
  for (std::size_t i = 0; i < 256; ++i)
    photo.space.linear[i] = static_cast<float>(std::pow(static_cast<double>(i) / 255, 2.2));
  // In place of the finder: bright spots on the road, the strip between the horizon's haze and the bonnet.
  cv::Mat grey, bright;
  cv::cvtColor(photo.rgb, grey, cv::COLOR_RGB2GRAY);
  const cv::Mat road =
      (cv::Mat_<cv::Point>(4, 1) << cv::Point(60, 538), cv::Point(450, 335), cv::Point(520, 335), cv::Point(930, 538));
  cv::Mat on_road = cv::Mat::zeros(grey.size(), CV_8U);
  cv::fillConvexPoly(on_road, road, 255);
  bright = (grey > 180) & on_road;
  PaintMap map;
  map.photo_per_cell = 1;
  bright.convertTo(map.footprint, CV_32F, 1 / 255.0);
  on_road.convertTo(map.pavement, CV_32F, 1 / 255.0);
  map.pavement -= map.footprint;
  map.not_ground = 1 - map.pavement - map.footprint;

  const auto ground = find_ground(photo, map);
  ASSERT_TRUE(ground);
  // The horizon where depth() is zero, below the lines' meeting point.
  const double slope = ground->ground_from_image.depth({488, 1}) - ground->ground_from_image.depth({488, 0});
  const double horizon = -ground->ground_from_image.depth({488, 0}) / slope;
  EXPECT_NEAR(horizon, 312, 15);
}

}  // namespace
}  // namespace lotwear
