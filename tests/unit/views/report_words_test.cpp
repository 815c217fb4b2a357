#include "views/report_words.hpp"

#include <gtest/gtest.h>

namespace lotwear {
namespace {

TEST(Number, IsRoundedAndSetInThousands) {
  EXPECT_EQ(number(0, 0), "0");
  EXPECT_EQ(number(999.5, 0), "1,000");
  EXPECT_EQ(number(1234567.891, 2), "1,234,567.89");
  EXPECT_EQ(number(12.34, 1), "12.3");
  EXPECT_EQ(number(-1234.5, 1), "\u22121,234.5");
  EXPECT_EQ(number(-0.04, 1), "0.0");
}

TEST(Lengths, AreFeetAndInchesOrMetres) {
  EXPECT_EQ(length_words(5.4864, Units::us_customary), "18.0\u00a0ft");  // an 18 ft stall line, exact
  EXPECT_EQ(length_words(0.1016, Units::us_customary), "4.0\u00a0in");   // 4 in wide, exact
  EXPECT_EQ(length_words(5.4864, Units::metric), "5.49\u00a0m");
  EXPECT_EQ(length_words(0.1016, Units::metric), "102\u00a0mm");
}

// A 4 in x 18 ft stall line is 6.00 sq ft: arithmetic.
TEST(Areas, AreSquareFeetOrSquareMetres) {
  EXPECT_EQ(area_words(0.1016 * 5.4864, Units::us_customary), "6.0\u00a0sq\u00a0ft");
  EXPECT_EQ(area_words(0.557, Units::metric), "0.56\u00a0m\u00b2");
}

// One US gallon is 3.785411784 litres by definition (231 cubic inches).
TEST(Volumes, AreGallonsOrLitres) {
  EXPECT_EQ(volume_words(3.785411784, Units::us_customary), "1.00\u00a0gal");
  EXPECT_EQ(volume_words(3.785411784, Units::metric), "3.8\u00a0l");
}

TEST(Money, KeepsEveryCent) {
  EXPECT_EQ(money_words(0, "USD"), "$0.00");
  EXPECT_EQ(money_words(5, "USD"), "$0.05");
  EXPECT_EQ(money_words(123456789, "USD"), "$1,234,567.89");
  EXPECT_EQ(money_words(-1050, "USD"), "\u2212$10.50");
  EXPECT_EQ(money_words(100000, "EUR"), "EUR\u00a01,000.00");
  EXPECT_EQ(money_words(INT64_MIN, "USD"), "\u2212$92,233,720,368,547,758.08");
}

TEST(Dates, AreWrittenOutAndAnythingElseIsKept) {
  EXPECT_EQ(date_words("2026-04-11"), "11 April 2026");
  EXPECT_EQ(date_words("2026-12-01T09:02:00"), "1 December 2026");
  for (const char* odd : {"", "yesterday", "2026-13-01", "2026-00-10", "2026-04-40", "20x6-04-11"}) {
    EXPECT_EQ(date_words(odd), odd);
  }
  EXPECT_EQ(time_words("2026-04-11T09:02:00"), "2026-04-11\u00a009:02");
  EXPECT_EQ(time_words("spring"), "spring");
}

TEST(Durations, AreMinutesThenHours) {
  EXPECT_EQ(duration_words(1.0 / 6), "10\u00a0minutes");
  EXPECT_EQ(duration_words(1.0 / 60), "1\u00a0minute");
  EXPECT_EQ(duration_words(1.49), "89\u00a0minutes");
  EXPECT_EQ(duration_words(2.25), "2.2\u00a0hours");
}

TEST(Lists, ReadAsSentences) {
  EXPECT_EQ(listed({}), "");
  EXPECT_EQ(listed({"a"}), "a");
  EXPECT_EQ(listed({"a", "b"}), "a and b");
  EXPECT_EQ(listed({"a", "b", "c"}), "a, b and c");
  EXPECT_EQ(counted(1, "marking", "markings"), "1\u00a0marking");
  EXPECT_EQ(counted(2, "marking", "markings"), "2\u00a0markings");
}

TEST(Words, ExistForEveryKindAndAction) {
  for (std::size_t k = 0; k < kKindWords.size(); ++k) {
    const auto kind = static_cast<Kind>(k);
    EXPECT_NE(kind_title(kind), "Marking") << word(kind);
    for (const Action action : {Action::no_action, Action::repaint, Action::grind_and_repaint}) {
      EXPECT_GT(if_it_waits(kind, action).size(), 20U);
    }
    EXPECT_NE(if_it_waits(kind, Action::repaint), if_it_waits(kind, Action::grind_and_repaint));
  }
}

TEST(Titles, ALegendHasItsWordsAsLongAsItIsOne) {
  SurveyMarking marking;
  marking.kind = Kind::legend;
  EXPECT_EQ(marking_title(marking), "Legend");
  marking.words = "FIRE LANE";
  EXPECT_EQ(marking_title(marking), "Legend \u201cFIRE LANE\u201d");
  marking.person_json = R"({"kind": "arrow-left"})";
  EXPECT_EQ(marking_title(marking), kind_title(Kind::arrow_left));
}

}  // namespace
}  // namespace lotwear
