// Words read from rows of letters. The alphabets here are not ours: OpenCV's Hershey fonts (A. V. Hershey, "Calligraphy
// for Computers", U.S. Naval Weapons Laboratory 1967, as shipped in OpenCV).
#include "marking/word_read.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <opencv2/imgproc.hpp>

namespace lotwear {
namespace {

const std::vector<Shape>& words() {
  static const std::vector<Shape> all = load_words(LOTWEAR_MODELS);
  return all;
}

/// Capital letters 28 pixels high, at x = 40.
RowMap written(const std::string& text, int font = cv::FONT_HERSHEY_SIMPLEX, int thick = 4) {
  RowMap row;
  const double scale = 28.0 / 21;  // capitals of these fonts are 21 units high
  cv::Mat bytes(40, 90 + 32 * static_cast<int>(text.size()), CV_8U, cv::Scalar(0));
  cv::putText(bytes, text, {40, 33}, font, scale, cv::Scalar(255), thick, cv::LINE_AA);
  bytes.convertTo(row.paint, CV_32F, 1.0 / 255);
  row.inside = cv::Mat(bytes.size(), CV_8U, cv::Scalar(255));
  row.top = 3, row.height = 32, row.stroke = thick;  // strokes reach half their width beyond their middle lines
  return row;
}

std::vector<std::string> texts(const std::vector<ReadWord>& read) {
  std::vector<std::string> all;
  for (const ReadWord& word : read)
    all.push_back(words()[word.word].text);
  return all;
}

using ::testing::ElementsAre;
using ::testing::IsEmpty;

TEST(WordRead, ReadsOtherAlphabetsOfPlainLetters) {
  std::size_t right = 0;
  const std::vector<std::string> all = {"STOP",  "SLOW",    "ONLY",    "YIELD",   "EXIT",
                                        "ENTER", "PARKING", "LOADING", "VISITOR", "COMPACT"};
  for (const std::string& word : all) {
    for (const int font : {cv::FONT_HERSHEY_SIMPLEX, cv::FONT_HERSHEY_DUPLEX})
      right += texts(read_row(written(word, font), words())) == std::vector{word} ? 1 : 0;
  }
  EXPECT_GE(right, 2 * all.size() - 3);
}

TEST(WordRead, ReadsWhatStandsOnItsHead) {
  RowMap row = written("LOADING");
  cv::Mat turned;
  cv::flip(row.paint, turned, -1);
  row.paint = turned, row.top = row.paint.rows - row.top - row.height;
  const auto read = read_row(row, words());
  ASSERT_THAT(texts(read), ElementsAre("LOADING"));
  EXPECT_TRUE(read[0].head_down);
  EXPECT_NEAR(read[0].right, row.paint.cols - 40, 8);
}

TEST(WordRead, ALetterThatIsGoneIsToldByTheOthers) {
  RowMap row = written("PARKING");
  const std::vector<ReadWord> whole = read_row(row, words());
  ASSERT_THAT(texts(whole), ElementsAre("PARKING"));
  const double letter = (whole[0].right - whole[0].left) / 7;
  row.paint(cv::Rect(static_cast<int>(whole[0].left + 3 * letter), 0, static_cast<int>(letter), row.paint.rows))
      .setTo(0);
  const std::vector<ReadWord> read = read_row(row, words());
  ASSERT_THAT(texts(read), ElementsAre("PARKING"));
  EXPECT_NEAR(read[0].left, whole[0].left, 4);
  EXPECT_NEAR(read[0].right, whole[0].right, 6);
  EXPECT_LT(read[0].seen, whole[0].seen);
}

TEST(WordRead, TwoWordsOfOneRowAreTwo) {
  EXPECT_THAT(texts(read_row(written("FIRE LANE"), words())), ElementsAre("FIRE", "LANE"));
}

TEST(WordRead, NoWordIsReadWhereNoneIs) {
  RowMap row = written("");
  EXPECT_THAT(read_row(row, words()), IsEmpty());
  // stripes, and a word that the trade does not paint
  for (int x = 20; x < row.paint.cols - 10; x += 24)
    row.paint(cv::Rect(x, 5, 9, 30)).setTo(1);
  EXPECT_THAT(read_row(row, words()), IsEmpty());
  EXPECT_THAT(read_row(written("XQZJWV"), words()), IsEmpty());
}

TEST(WordRead, WhatThePhotoCutsOffSpeaksNeitherWay) {
  RowMap row = written("STOP");
  row.inside(cv::Rect(0, 0, 52, row.paint.rows)).setTo(0);  // half of the S
  row.paint(cv::Rect(0, 0, 52, row.paint.rows)).setTo(1);   // what lies there means nothing
  EXPECT_THAT(texts(read_row(row, words())), ElementsAre("STOP"));
}

TEST(Words, AWordsDrawingIsAsHighAsSaidAndAsWideAsItsLettersAndGaps) {
  for (const Shape& word : words()) {
    const std::vector<double> values = word_values(word, {0.5, 0.2, 0.1, {}});
    double left = 1e9, right = -1e9, top = 1e9, bottom = -1e9;
    for (const GroundRing& ring : strokes_of(word, values)) {
      EXPECT_GT(area(ring), 0.1 * 0.02) << word.text;
      for (const GroundPoint& p : ring)
        left = std::min(left, p.x), right = std::max(right, p.x), top = std::min(top, p.y),
        bottom = std::max(bottom, p.y);
    }
    EXPECT_NEAR(bottom - top, 1, 0.06) << word.text;
    const double n = static_cast<double>(word.text.size());
    EXPECT_NEAR(right - left, n * 0.5 + (n - 1) * 0.2, 0.45) << word.text;  // an I stands in the middle of its place
  }
}

}  // namespace
}  // namespace lotwear
