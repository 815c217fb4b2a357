#pragma once
// The finder's map sorted into connected pieces, each with its likely kind, colours and place on the pavement.

#include <array>
#include <opencv2/core/mat.hpp>
#include <vector>

#include "base/geometry.hpp"
#include "detect/detect.hpp"
#include "ground/ground.hpp"
#include "marking/patch.hpp"

namespace lotwear {

struct Piece {
  cv::Rect box;                                 ///< cells of the map
  cv::Mat mask;                                 ///< CV_8U, box-sized, 255 = footprint
  std::array<double, kFinderKinds> votes{};     ///< shares by FinderKind, `none` left out, sum 1
  PaintContrast contrast;
  GroundPoint middle;
  double cell_mm = 0;                           ///< size of a map cell on the ground at the middle, the coarser direction
  int cells = 0;
  double coat = 0;                              ///< mean share of coat in sight, as the finder sees it
  bool at_border = false;                       ///< reaches the edge of the photo

  FinderKind likely() const;
};

struct PieceSettings {
  double footprint_above = 0.5;      ///< share of a cell that was painted once
  double seed_above = 0.75;          ///< a piece needs a few cells this sure: keeps ghosts and glare out
  double coat_above = 0.4;           ///< and some coat left somewhere: flakes without paint beside them are bare concrete
  int fewest_cells = 24;             ///< smaller ones are litter or too far away to measure
  double farthest_mm = 25000;        ///< beyond this a hand-held photo shows a stripe in less than two cells
};

/// One piece of two that belong together.
Piece united(const Piece& a, const Piece& b, const PaintMap& paint, const Ground& ground);

/// The piece's cells under `mask` (of its box's size) as a piece of their own.
Piece part_of(const Piece& whole, const cv::Mat& mask, const PaintMap& paint, const Ground& ground);

/// Millimetres between the nearest cells of two pieces.
double gap_between(const Piece& a, const Piece& b, const PaintMap& paint, const Ground& ground);

GroundRing hull_on_ground(const Piece& piece, const PaintMap& paint, const Ground& ground);

std::vector<Piece> find_pieces(const PaintMap& paint, const Ground& ground, cv::Size photo, const PieceSettings& settings = {});

}  // namespace lotwear
