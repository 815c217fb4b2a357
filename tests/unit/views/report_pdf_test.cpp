// The PDF as other programs see it: qpdf, pdftotext, pdffonts, pdfinfo, and page by page as pictures.

#include "views/report_pdf.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <opencv2/imgcodecs.hpp>
#include <regex>

#include "base/files.hpp"
#include "made_up_survey.hpp"
#include "support/run_shell.hpp"
#include "support/scratch_folder.hpp"

namespace lotwear {
namespace {

namespace fs = std::filesystem;
using testing::AllOf;
using testing::HasSubstr;
using testing::Not;

Rates own_rates() { return load_rates(fs::path(LOTWEAR_MODELS) / "rates.json"); }

ReportContent content_of(const Survey& survey, const fs::path& folder, Copy copy) {
  const Rates rates = own_rates();
  return report_content(survey, Policy{}, estimate(survey, rates, EstimateSettings{}), folder,
                        {"2026-04-12", {}, {}, RatesFrom::contractor, copy}, estimate_options(survey, rates, {}));
}

/// Sixty markings with photos as large as a phone's.
Survey sixty() {
  Survey survey = made_up::lot();
  std::vector<SurveyMarking> all;
  for (std::size_t i = 0; i < 60; ++i) {
    SurveyMarking one = survey.markings[i % 12];
    one.id = "M" + std::to_string(101 + i);
    all.push_back(one);
  }
  survey.markings = all;
  return survey;
}

class ReportPdf : public testing::Test {
 protected:
  void SetUp() override {
    for (const char* program : {"qpdf", "pdftotext", "pdffonts", "pdfinfo", "pdftoppm"})
      LOTWEAR_NEEDS(program);
  }
  std::string text_of(const std::string& pdf) {
    const test::ShellRan ran = test::shell("pdftotext -layout '" + pdf + "' -");
    EXPECT_EQ(ran.status, 0) << ran.output;
    return ran.output;
  }
  test::ScratchFolder folder;
};

TEST_F(ReportPdf, IsSoundWithEmbeddedFontsBookmarksLinksAndMetadata) {
  const Survey survey = made_up::lot();
  made_up::write_pictures(survey, folder.path(), {800, 600});
  const ReportContent content = content_of(survey, folder.path(), Copy::owner);
  const std::string bytes = report_pdf(content, kLetterPage);
  EXPECT_EQ(report_pdf(content, kLetterPage), bytes) << "same content, same bytes";
  const std::string pdf = folder.put("report.pdf", bytes);

  const test::ShellRan sound = test::shell("qpdf --check '" + pdf + "'");
  EXPECT_EQ(sound.status, 0) << sound.output;
  EXPECT_THAT(sound.output, Not(HasSubstr("WARNING")));

  const std::string fonts = test::shell("pdffonts '" + pdf + "' | tail -n +3").output;
  EXPECT_GE(test::times_in(fonts, "DejaVuSans"), 2);
  for (std::size_t at = 0; at < fonts.size(); at = fonts.find('\n', at) + 1)
    EXPECT_TRUE(std::regex_search(fonts.substr(at, fonts.find('\n', at) - at), std::regex(" yes +(yes|no) +(yes|no) ")))
        << "a font is not embedded: " << fonts.substr(at, 80);

  const std::string info = test::shell("TZ=UTC pdfinfo '" + pdf + "'").output;
  EXPECT_THAT(info, AllOf(HasSubstr("Quarry Lane Shops, east lot"), HasSubstr("lotwear 0.1.0"), HasSubstr("Apr 11"),
                          HasSubstr("Tagged:          yes"), HasSubstr("612 x 792")));

  const std::string outlines = test::shell("qpdf --json --json-key=outlines '" + pdf + "'").output;
  for (const char* bookmark : {"Summary", "Order of work", "Site plan", "Evidence", "M001 Stop line", "Options",
                               "Crew plan", "Cautions", "Photos", "Signatures"})
    EXPECT_THAT(outlines, HasSubstr(bookmark));
  const std::string targets = test::shell("pdfinfo -dests '" + pdf + "'").output;
  for (const ReportCard& card : content.cards)
    EXPECT_THAT(targets, HasSubstr("m-" + card.id));
  const std::string raw = test::shell("qpdf --qdf --object-streams=disable '" + pdf + "' - | strings").output;
  EXPECT_GE(test::times_in(raw, "/Subtype /Link"), 36) << "the glance, the table and the plan lead to the cards";
}

TEST_F(ReportPdf, SaysWhatTheHtmlSaysWithPageNumbersAndWholeCards) {
  const Survey survey = made_up::lot();
  made_up::write_pictures(survey, folder.path(), {800, 600});
  const ReportContent content = content_of(survey, folder.path(), Copy::owner);
  const std::string text = text_of(folder.put("report.pdf", report_pdf(content, kA4Page)));
  const int pages = test::times_in(text, "\f");
  EXPECT_THAT(text, HasSubstr("page 1 of " + std::to_string(pages)));
  EXPECT_THAT(text, HasSubstr("page " + std::to_string(pages) + " of " + std::to_string(pages)));
  for (const ReportCard& card : content.cards)
    EXPECT_THAT(text, HasSubstr(card.id));
  EXPECT_THAT(text, HasSubstr(content.totals.back().value));
  for (const ReportOption& option : content.options)
    EXPECT_THAT(text, HasSubstr(option.total));
  EXPECT_THAT(text, HasSubstr(survey.photos[0].sha256.substr(0, 32)));
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t end = std::min(text.find('\f', at), text.size());
    const std::string page = text.substr(at, end - at);
    EXPECT_EQ(test::times_in(page, " of 100"), test::times_in(page, "Who says so")) << "a card is torn";
    at = end + 1;
  }
}

TEST_F(ReportPdf, TheOwnersCopyTellsNoCostsAndTheContractorsDoes) {
  const Survey survey = made_up::lot();
  const std::string owner =
      text_of(folder.put("owner.pdf", report_pdf(content_of(survey, folder.path(), Copy::owner), kLetterPage)));
  const std::string own =
      text_of(folder.put("own.pdf", report_pdf(content_of(survey, folder.path(), Copy::contractor), kLetterPage)));
  for (const char* word : {"Margin", "margin inside", "costs.person", "prices.markup", "Left over for each hour"}) {
    EXPECT_THAT(owner, Not(HasSubstr(word)));
  }
  EXPECT_THAT(own, AllOf(HasSubstr("Margin"), HasSubstr("not for the owner"), HasSubstr("costs.person"),
                         HasSubstr("Left over for each hour"), HasSubstr("How every quantity came about")));
}

TEST_F(ReportPdf, SixtyMarkingsStayBelowTenMegabytes) {
  const Survey survey = sixty();
  made_up::write_pictures(survey, folder.path(), {4032, 3024});
  // write_pictures names files after the first twelve ids; the evidence of all sixty points there.
  Survey shared = survey;
  for (std::size_t i = 0; i < shared.markings.size(); ++i) {
    const SurveyMarking& first = survey.markings[i % 12];
    shared.markings[i].evidence_photo = "evidence/" + first.id + "-photo.jpg";
    shared.markings[i].evidence_plan = "evidence/" + first.id + "-plan.jpg";
    shared.markings[i].evidence_loss = "evidence/" + first.id + "-loss.png";
  }
  const ReportContent content = content_of(shared, folder.path(), Copy::owner);
  for (const ReportCard& card : content.cards)
    ASSERT_FALSE(card.photo.bytes.empty()) << card.photo.missing;
  const std::string bytes = report_pdf(content, kLetterPage);
  std::printf("60 markings: %.1f MB\n", static_cast<double>(bytes.size()) / 1e6);
  EXPECT_LT(bytes.size(), 10'000'000U);
  EXPECT_GT(bytes.size(), 1'000'000U) << "the pictures are in it";
}

TEST_F(ReportPdf, HostileTextStaysText) {
  const std::string hostile = "</title><script>alert(1)</script> & <b>bold</b> %s (x) \\n \xff\x01 \u202Ereversed";
  Survey survey = made_up::lot();
  survey.site = {hostile, std::string(3000, 'w'), hostile + std::string(3000, ' ') + "end"};
  for (SurveyMarking& marking : survey.markings) {
    marking.photo = hostile;
    marking.decision.reasons = {hostile, std::string(5000, 'x')};
    marking.id += "'] page=1 uri='http";
    if (marking.same_as) marking.same_as = hostile;
  }
  survey.markings[0].person_json = R"({"note": "<b onclick=\"x\">&lt;</b>"})";
  for (SurveyPhoto& photo : survey.photos) {
    photo.file = photo.sha256 = hostile;
    photo.advice = {hostile};
  }
  survey.problems = {{hostile, hostile}};
  const std::string pdf =
      folder.put("hostile.pdf", report_pdf(content_of(survey, folder.path(), Copy::contractor), kA4Page));
  const test::ShellRan sound = test::shell("qpdf --check '" + pdf + "'");
  EXPECT_EQ(sound.status, 0) << sound.output;
  EXPECT_THAT(text_of(pdf), AllOf(HasSubstr("<script>alert(1)</script>"), HasSubstr("<b onclick")));
  const std::string raw = test::shell("qpdf --qdf --object-streams=disable '" + pdf + "' - | strings").output;
  EXPECT_THAT(raw, AllOf(Not(HasSubstr("/URI")), Not(HasSubstr("/JavaScript"))));
}

TEST_F(ReportPdf, IsAPageAlsoWithoutAnything) {
  const std::string pdf =
      folder.put("empty.pdf", report_pdf(report_content(Survey{}, Policy{}, std::nullopt, folder.path(), {}), kA4Page));
  EXPECT_EQ(test::shell("qpdf --check '" + pdf + "'").status, 0);
  EXPECT_THAT(text_of(pdf), HasSubstr("No marking could be measured"));
}

// Page by page against approved pictures, 40 dots an inch: coarse enough for another build of the font rasteriser, fine
// enough for a box, a line or a picture that moved. After a change that is meant: look at the .received pictures, then
// copy them over the approved ones.
TEST_F(ReportPdf, LooksAsApproved) {
  constexpr double kMostMean = 1.0, kMostChanged = 0.004;
  const fs::path approved = fs::path(LOTWEAR_SOURCE) / "tests" / "unit" / "views" / "approved";
  Survey survey = made_up::lot();
  made_up::write_pictures(survey, folder.path(), {800, 600});
  survey.markings.resize(5);
  const std::string pdf =
      folder.put("report.pdf", report_pdf(content_of(survey, folder.path(), Copy::contractor), kLetterPage));
  ASSERT_EQ(test::shell("pdftoppm -r 40 -gray -png '" + pdf + "' '" + (folder.path() / "page").string() + "'").status,
            0);
  int pages = 0;
  for (const auto& entry : fs::directory_iterator(folder.path())) {
    const std::string name = entry.path().filename().string();
    if (!name.starts_with("page-")) continue;
    ++pages;
    const cv::Mat now = cv::imread(entry.path().string(), cv::IMREAD_GRAYSCALE);
    const cv::Mat then = cv::imread((approved / name).string(), cv::IMREAD_GRAYSCALE);
    double mean = 255, changed = 1;
    if (!then.empty() && then.size() == now.size()) {
      cv::Mat apart;
      cv::absdiff(now, then, apart);
      mean = cv::mean(apart)[0];
      changed = cv::countNonZero(apart > 60) / static_cast<double>(apart.total());
    }
    const fs::path received = fs::path(testing::TempDir()) / ("received." + name);
    if (mean > kMostMean || changed > kMostChanged)
      fs::copy_file(entry.path(), received, fs::copy_options::overwrite_existing);
    EXPECT_LE(mean, kMostMean) << "compare " << received << " with " << approved / name;
    EXPECT_LE(changed, kMostChanged) << name;
  }
  int kept = 0;
  for (const auto& entry : fs::directory_iterator(approved))
    kept += entry.path().filename().string().starts_with("page-");
  EXPECT_EQ(pages, kept) << "pages came or went";
}

}  // namespace
}  // namespace lotwear
