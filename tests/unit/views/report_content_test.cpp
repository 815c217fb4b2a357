#include "views/report_content.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <algorithm>
#include <filesystem>

#include "base/files.hpp"
#include "made_up_survey.hpp"
#include "views/report_pictures.hpp"

namespace lotwear {
namespace {

namespace fs = std::filesystem;
using testing::Contains;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;
using testing::Not;

ReportContent content_of(const Survey& survey, const ReportSettings& settings = {"2026-04-12", {}, {}, {}}) {
  return report_content(survey, Policy{}, made_up::estimate_by_hand(), "no-such-folder", settings);
}

const ReportCard& card_of(const ReportContent& content, const std::string& id) {
  return *std::find_if(content.cards.begin(), content.cards.end(), [&](const ReportCard& c) { return c.id == id; });
}

TEST(ReportContent, HasOneCardAMarkingInOrderOfPriority) {
  const ReportContent content = content_of(made_up::lot());
  ASSERT_EQ(content.cards.size(), 12U);
  for (std::size_t i = 0; i < content.cards.size(); ++i) {
    EXPECT_EQ(content.cards[i].rank, static_cast<int>(i) + 1);
    if (i > 0) {
      EXPECT_GE(content.cards[i - 1].priority, content.cards[i].priority);
    }
  }
  EXPECT_EQ(content.cards.front().id, "M001");
}

TEST(ReportContent, WhatLiesUnderASymbolIsItsField) {
  Survey survey = made_up::lot();
  const auto symbol = std::find_if(survey.markings.begin(), survey.markings.end(),
                                   [](const SurveyMarking& m) { return m.kind == Kind::accessible_symbol; });
  ASSERT_NE(symbol, survey.markings.end());
  for (SurveyMarking& marking : survey.markings) {
    if (marking.id != symbol->id) marking.outline = {{{100, 100}, {300, 100}, {300, 300}, {100, 300}}};
  }
  const auto card_at = [&](double left) {  // an unknown marking in the symbol's photo, its left side there
    Survey with = survey;
    SurveyMarking field = *symbol;
    field.id = "M099", field.kind = Kind::other, field.person_json = "null";
    field.outline = {{{left, 700}, {2200, 700}, {2200, 2500}, {left, 2500}}};
    with.markings.push_back(field);
    return card_of(content_of(with), "M099");
  };
  const auto kind_of = [](const ReportCard& card) {
    return std::find_if(card.facts.begin(), card.facts.end(), [](const ReportFact& f) { return f.name == "Kind"; })->value;
  };
  EXPECT_EQ(card_at(1400).title, "Field under " + symbol->id);
  EXPECT_EQ(kind_of(card_at(1400)), "Field on which " + symbol->id + " is painted");
  EXPECT_EQ(card_at(1700).title, "Other marking");  // the symbol's left third lies beside it
}

TEST(ReportContent, CountsAddUpAndLeaveRepeatsOut) {
  const ReportContent content = content_of(made_up::lot());
  ASSERT_EQ(content.counts.size(), 3U);
  EXPECT_EQ(content.counts[0].count + content.counts[1].count + content.counts[2].count, 12);
  EXPECT_THAT(content.not_counted, ElementsAre("M013 in IMG_0413.jpg is the same paint as M005."));
}

TEST(ReportContent, SummaryNamesTheWorkTheFirstAndThePrice) {
  const ReportContent content = content_of(made_up::lot());
  EXPECT_THAT(content.summary,
              Contains(HasSubstr("12\u00a0markings were measured in 5\u00a0photos, taken 11 April 2026")));
  EXPECT_THAT(content.summary, Contains(HasSubstr("the stop line M001, with 31\u00a0% of its paint left")));
  EXPECT_THAT(content.summary, Contains("The work comes to $456.70, tax included."));
}

TEST(ReportContent, ExampleRatesNeverPassForAnOffer) {
  const ReportContent own = content_of(made_up::lot());
  EXPECT_FALSE(own.price_warning);
  const ReportContent example = content_of(made_up::lot(), {"", {}, {}, RatesFrom::example});
  ASSERT_TRUE(example.price_warning);
  EXPECT_THAT(*example.price_warning, HasSubstr("not an offer"));
  EXPECT_THAT(example.summary, Contains(HasSubstr("By example rates")));
}

TEST(ReportContent, OwnerSeesPricesAndNoFormulas) {
  const ReportContent content = content_of(made_up::lot());
  ASSERT_TRUE(content.prices);
  for (const auto& row : content.prices->rows) {
    EXPECT_THAT(row, Not(Contains(HasSubstr("secret"))));
    EXPECT_EQ(row.size(), content.prices->head.size());
  }
  EXPECT_EQ(content.totals.back().value, "$456.70");
}

TEST(ReportContent, WithoutEstimateThereIsNoPrice) {
  const ReportContent content = report_content(made_up::lot(), Policy{}, std::nullopt, "no-such-folder", {});
  EXPECT_FALSE(content.prices);
  EXPECT_THAT(content.quantities.rows, IsEmpty());
  EXPECT_THAT(content.summary, Not(Contains(HasSubstr("comes to"))));
}

TEST(ReportContent, NothingMeasuredIsSaidInASentence) {
  Survey survey = made_up::lot();
  survey.markings.clear();
  const ReportContent content = report_content(survey, Policy{}, std::nullopt, "no-such-folder", {});
  EXPECT_THAT(content.summary, ElementsAre(HasSubstr("No marking could be measured in 5\u00a0photos")));
}

TEST(ReportContent, APersonsWordIsShownAsAPersonsWord) {
  Survey survey = made_up::lot();
  survey.markings[6].person_json =
      R"({"kind": "stop-line", "colour": "yellow", "action": "grind-and-repaint", "note": "soft"})";
  const ReportContent content = content_of(survey);
  const ReportCard& card = card_of(content, "M007");
  EXPECT_EQ(card.title, "Stop line");
  EXPECT_THAT(card.about, HasSubstr("yellow"));
  EXPECT_EQ(card.action, Action::grind_and_repaint);
  EXPECT_THAT(card.standing, HasSubstr("A person set the kind, colour and action."));
  EXPECT_EQ(card.note, "soft");
  EXPECT_THAT(card_of(content, "M003").standing, HasSubstr("Confirmed by a person."));
  EXPECT_THAT(card_of(content, "M001").standing, HasSubstr("no person has confirmed"));
}

TEST(ReportContent, SaysWhichMarkingsAPersonConfirmedDrewAndStruckOut) {
  Survey survey = made_up::lot();
  EXPECT_THAT(content_of(survey).summary, Contains(HasSubstr("A person has confirmed M003; the other 11")));
  survey.markings[1].person_json = R"({"false_alarm": true})";
  Condition again = survey.markings[0].condition;
  again.remaining = {{0.4}, {0.5}, {0.6}};
  survey.markings[0].person_json =
      R"({"added": true, "confirmed": true, "outline": [[[1, 2], [30, 4], [5, 60]]], "measured": )" +
      condition_text(again) + "}";
  const ReportContent content = content_of(survey);
  EXPECT_EQ(content.cards.size(), 11U);
  EXPECT_THAT(content.not_counted, Contains(HasSubstr("M002 in IMG_0412.jpg is no marking, a person found.")));
  EXPECT_THAT(content.summary, Contains(HasSubstr("A person has confirmed M001 and M003")));
  EXPECT_NEAR(card_of(content, "M001").remaining, 50, 1e-9);
  EXPECT_THAT(card_of(content, "M001").standing, HasSubstr("A person drew it"));
  for (SurveyMarking& marking : survey.markings) {
    if (!is_false_alarm(marking)) marking.person_json = R"({"confirmed": true})";
  }
  EXPECT_THAT(content_of(survey).summary, Contains("A person has confirmed every one of them."));
}

TEST(ReportContent, GrindingCarriesItsCautions) {
  Survey survey = made_up::lot();
  const auto titles = [](const ReportContent& content) {
    std::vector<std::string> all;
    for (const ReportSection& section : content.cautions)
      all.push_back(section.title);
    return all;
  };
  const ReportContent content = content_of(survey);
  EXPECT_THAT(titles(content), ElementsAre("Silica dust", "Lead and chromium in old paint", "Wire wheels and grinders",
                                           "Traffic", "Local rules come first"));
  EXPECT_EQ(card_of(content, "M002").cautions.size(), 2U);  // yellow
  EXPECT_EQ(card_of(content, "M003").cautions.size(), 1U);  // blue
  EXPECT_THAT(card_of(content, "M001").cautions, IsEmpty());

  std::erase_if(survey.markings, [](const SurveyMarking& m) { return m.decision.action == Action::grind_and_repaint; });
  survey.markings.erase(std::find_if(survey.markings.begin(), survey.markings.end(),
                                     [](const SurveyMarking& m) { return m.person_json != "null"; }));
  EXPECT_THAT(titles(content_of(survey)), ElementsAre("Traffic", "Local rules come first"));
}

TEST(ReportContent, AWhiteCoatOverAYellowOneWarnsOfLead) {
  Survey survey = made_up::lot();
  survey.markings[10].condition.colour = Colour::white;
  survey.markings[10].condition.older_colour = Colour::yellow;
  EXPECT_THAT(card_of(content_of(survey), "M011").cautions, Contains(HasSubstr("lead")));
}

TEST(ReportContent, NeverPrintsARetroreflectivityNumber) {
  const ReportContent content = content_of(made_up::lot());
  for (const auto& sections : {content.method, content.cautions}) {
    for (const ReportSection& section : sections) {
      for (const std::string& point : section.points)
        EXPECT_THAT(point, Not(HasSubstr("mcd")));
    }
  }
  EXPECT_EQ(content.method.back().title, "What a photo cannot show");
  EXPECT_THAT(content.method.back().points, Contains(HasSubstr("retroreflectivity")));
}

TEST(ReportContent, SaysWhereSizesAreMissing) {
  const ReportContent content = content_of(made_up::lot());
  EXPECT_EQ(card_of(content, "M012").area, "\u2013");
  EXPECT_THAT(card_of(content, "M012").facts.front().value, HasSubstr("no scale"));
  EXPECT_THAT(content.counts[2].area, HasSubstr("1 without size"));
}

TEST(ReportContent, UsesTheUnitsThatWereAsked) {
  const ReportContent us = content_of(made_up::lot());
  const ReportContent metric = content_of(made_up::lot(), {"", {}, Units::metric, {}});
  EXPECT_THAT(card_of(us, "M006").facts.front().value, HasSubstr("18.0\u00a0ft"));
  EXPECT_THAT(card_of(metric, "M006").facts.front().value, HasSubstr("5.49\u00a0m"));
}

class Pictures : public testing::Test {
 protected:
  fs::path folder = fs::temp_directory_path() / ("lotwear-pictures-" + std::to_string(::getpid()));
  void SetUp() override {
    fs::remove_all(folder);
    fs::create_directories(folder / "survey");
  }
  void TearDown() override { fs::remove_all(folder); }
};

TEST_F(Pictures, ComeWithTheirSizeAndKind) {
  const LossMap map = made_up::loss_map({120, 300}, 3, 0.1, 0.1, false, {230, 230, 230});
  const auto scene = made_up::photo_of(map, {800, 600}, 4);
  const EvidenceFiles files = write_evidence(scene.photo, scene.outline, map, "M001", folder / "survey");
  const cv::Mat photo = photo_picture(scene.photo, scene.outline, "M001");
  const ReportPicture jpeg = read_picture(folder / "survey", files.photo),
                      png = read_picture(folder / "survey", files.loss);
  EXPECT_EQ(jpeg.media_type, "image/jpeg");
  EXPECT_EQ(cv::Size(jpeg.width, jpeg.height), photo.size());
  EXPECT_EQ(png.media_type, "image/png");
  EXPECT_EQ(cv::Size(png.width, png.height), loss_picture(map).index.size());
}

TEST_F(Pictures, NeverComeFromOutsideTheSurvey) {
  const LossMap map = made_up::loss_map({120, 300}, 3, 0.1, 0.1, false, {230, 230, 230});
  const std::string png = png_bytes(loss_picture(map));
  write_file(folder / "secret.png", png);
  fs::create_symlink(folder / "secret.png", folder / "survey" / "link.png");
  for (const std::string& named :
       {std::string("../secret.png"), (folder / "secret.png").string(), std::string("link.png"),
        std::string("x/../../secret.png"), std::string("/etc/hostname")}) {
    const ReportPicture picture = read_picture(folder / "survey", named);
    EXPECT_THAT(picture.bytes, IsEmpty()) << named;
    EXPECT_THAT(picture.missing, HasSubstr("outside the survey folder")) << named;
  }
}

TEST_F(Pictures, ThatAreNoneAreNamed) {
  write_file(folder / "survey" / "text.jpg", "not a picture at all, just words that somebody saved");
  write_file(folder / "survey" / "cut.jpg", std::string("\xff\xd8\xff\xe0\x00\x10", 6));
  write_file(folder / "survey" / "loop.jpg",
             std::string("\xff\xd8\xff\xe0\x00\x00\xff\xe0\x00\x00\xff\xe0\x00\x00", 14));
  write_file(folder / "survey" / "empty.png", "");
  for (const char* named : {"text.jpg", "cut.jpg", "loop.jpg", "empty.png"}) {
    EXPECT_THAT(read_picture(folder / "survey", named).missing, HasSubstr("is not a picture")) << named;
  }
  EXPECT_THAT(read_picture(folder / "survey", "gone.jpg").missing, HasSubstr("missing"));
  EXPECT_THAT(read_picture(folder / "survey", "").missing, HasSubstr("no picture"));
}

}  // namespace
}  // namespace lotwear
