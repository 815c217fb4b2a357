#include "marking/footprints.hpp"

#include <gtest/gtest.h>

namespace lotwear {
namespace {

Piece piece(double coat) {
  Piece piece;
  piece.coat = coat;
  return piece;
}

/// The finder says arrow, and a drawing of one agrees with its map so well.
Reading read_as_arrow(double agreement) {
  Reading reading;
  reading.vote_shape = 0.9;
  reading.shape.emplace();
  reading.shape->kind = Kind::arrow_right;
  reading.shape->agreement = agreement;
  return reading;
}

TEST(Drawings, OneThatMissesAThirdOfAWornPieceIsKept) {
  EXPECT_TRUE(keeps_to_drawing(piece(0.5), read_as_arrow(0.6), false));
  EXPECT_FALSE(keeps_to_drawing(piece(0.5), read_as_arrow(0.5), false));
}

TEST(Drawings, OneThatMissesAThirdOfAWholePieceIsNoDrawingOfIt) {
  EXPECT_FALSE(keeps_to_drawing(piece(0.9), read_as_arrow(0.6), false));
  EXPECT_TRUE(keeps_to_drawing(piece(0.9), read_as_arrow(0.8), false));
}

TEST(Drawings, LettersKeepNone) { EXPECT_FALSE(keeps_to_drawing(piece(0.5), read_as_arrow(0.9), true)); }

}  // namespace
}  // namespace lotwear
