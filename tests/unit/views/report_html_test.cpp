#include "views/report_html.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <map>
#include <opencv2/imgcodecs.hpp>
#include <regex>
#include <set>
#include <string>
#include <vector>

#include "base/files.hpp"
#include "made_up_survey.hpp"

namespace lotwear {
namespace {

namespace fs = std::filesystem;
using testing::HasSubstr;
using testing::Not;

struct Tag {
  std::string name;
  std::map<std::string, std::string> attributes;
};

/// A strict little reader for our own pages: every tag closed in order, every attribute quoted. Fails the test
/// otherwise.
std::vector<Tag> tags_of(const std::string& html) {
  static const std::set<std::string> never_closed = {"meta", "img", "br", "link", "!DOCTYPE"};
  std::vector<Tag> all;
  std::vector<std::string> open;
  for (std::size_t at = html.find('<'); at != std::string::npos; at = html.find('<', at)) {
    const std::size_t name_end = html.find_first_of(" />\n", at + 2);
    std::string name = html.substr(at + 1, name_end - at - 1);
    if (html[at + 1] == '/') {
      name = html.substr(at + 2, html.find('>', at) - at - 2);
      EXPECT_FALSE(open.empty()) << "</" << name;
      if (open.empty()) return all;
      EXPECT_EQ(open.back(), name) << "near " << html.substr(at > 60 ? at - 60 : 0, 90);
      if (open.back() != name) return all;
      open.pop_back();
      at = html.find('>', at);
      continue;
    }
    Tag tag{name, {}};
    std::size_t i = name_end;
    bool self_closed = false;
    while (i < html.size() && html[i] != '>') {
      if (html[i] == ' ' || html[i] == '\n') {
        ++i;
      } else if (html[i] == '/') {
        self_closed = true;
        ++i;
      } else {
        const std::size_t equals = html.find_first_of("=> ", i);
        if (html[equals] != '=') {  // DOCTYPE html
          i = equals;
          continue;
        }
        const char quote = html[equals + 1];
        EXPECT_TRUE(quote == '"' || quote == '\'') << html.substr(at, 120);
        const std::size_t end = html.find(quote, equals + 2);
        tag.attributes[html.substr(i, equals - i)] = html.substr(equals + 2, end - equals - 2);
        i = end + 1;
      }
    }
    if (!self_closed && !never_closed.contains(name)) open.push_back(name);
    all.push_back(tag);
    at = i;
    if (name == "style") at = html.find("</style>", at) - 1;
  }
  EXPECT_TRUE(open.empty()) << open.back();
  return all;
}

class ReportPage : public testing::Test {
 protected:
  static void SetUpTestSuite() {
    folder = fs::temp_directory_path() / ("lotwear-report-" + std::to_string(::getpid()));
    fs::remove_all(folder);
    fs::create_directories(folder);
    const Survey survey = made_up::lot();
    made_up::write_pictures(survey, folder, {800, 600});
    content = report_content(survey, Policy{}, made_up::estimate_by_hand(), folder, {"2026-04-12", {}, {}, {}});
    html = report_html(content);
  }
  static void TearDownTestSuite() { fs::remove_all(folder); }
  static inline fs::path folder;
  static inline ReportContent content;
  static inline std::string html;
};

TEST_F(ReportPage, IsWellFormedAndTheSameEveryTime) {
  EXPECT_GT(tags_of(html).size(), 500U);
  EXPECT_EQ(report_html(content), html);
}

TEST_F(ReportPage, NeedsNothingFromOutside) {
  for (const Tag& tag : tags_of(html)) {
    EXPECT_NE(tag.name, "script");
    EXPECT_NE(tag.name, "link");
    EXPECT_NE(tag.name, "iframe");
    for (const auto& [name, value] : tag.attributes) {
      EXPECT_FALSE(name.starts_with("on")) << name;
      if (name == "src") {
        EXPECT_THAT(value.substr(0, 11), "data:image/");
      }
      if (name == "href") {
        EXPECT_EQ(value[0], '#');
      }
    }
  }
  EXPECT_THAT(html, Not(HasSubstr("http://")));
  EXPECT_THAT(html, Not(HasSubstr("https://")));
  EXPECT_THAT(html, Not(HasSubstr("@import")));
  EXPECT_THAT(html, HasSubstr("default-src 'none'"));
}

TEST_F(ReportPage, EveryPictureIsThereHasItsSizeAndWords) {
  int pictures = 0;
  for (const Tag& tag : tags_of(html)) {
    if (tag.name != "img") continue;
    ++pictures;
    EXPECT_GT(tag.attributes.at("alt").size(), 20U);
    EXPECT_GT(std::stoi(tag.attributes.at("width")), 50);
    EXPECT_GT(std::stoi(tag.attributes.at("height")), 50);
  }
  EXPECT_EQ(pictures, 36);
}

TEST_F(ReportPage, CanBeReadWithoutSeeingIt) {
  std::set<std::string> ids, landmarks;
  std::vector<std::string> targets;
  int level = 0, first_headings = 0;
  for (const Tag& tag : tags_of(html)) {
    if (tag.attributes.contains("id")) {
      EXPECT_TRUE(ids.insert(tag.attributes.at("id")).second) << tag.attributes.at("id");
    }
    if (tag.attributes.contains("href")) targets.push_back(tag.attributes.at("href").substr(1));
    if (tag.attributes.contains("aria-labelledby")) targets.push_back(tag.attributes.at("aria-labelledby"));
    if (tag.name.size() == 2 && tag.name[0] == 'h' && tag.name[1] >= '1' && tag.name[1] <= '6') {
      EXPECT_LE(tag.name[1] - '0', level + 1) << "a heading skips a level";
      level = tag.name[1] - '0';
      first_headings += level == 1;
    }
    if (tag.name == "th") {
      EXPECT_TRUE(tag.attributes.contains("scope"));
    }
    if (tag.name == "svg") {
      const bool spoken = tag.attributes.contains("aria-label") && tag.attributes.contains("role");
      EXPECT_TRUE(spoken || tag.attributes.contains("aria-hidden"));
    }
    if (tag.name == "html") {
      EXPECT_EQ(tag.attributes.at("lang"), "en");
    }
    landmarks.insert(tag.name);
  }
  EXPECT_EQ(first_headings, 1);
  for (const char* landmark : {"header", "nav", "main", "footer"})
    EXPECT_TRUE(landmarks.contains(landmark)) << landmark;
  for (const std::string& target : targets)
    EXPECT_TRUE(ids.contains(target)) << target;
  EXPECT_LT(html.find("class=\"skip\""), html.find("<header"));
}

TEST_F(ReportPage, ShowsEveryCardWithItsActionIntervalAndReasons) {
  for (const ReportCard& card : content.cards) {
    const std::size_t start = html.find("<article class=\"card\" aria-labelledby=\"m-" + card.id + "\"");
    ASSERT_NE(start, std::string::npos) << card.id;
    const std::string article = html.substr(start, html.find("</article>", start) - start);
    EXPECT_THAT(article, HasSubstr(card.action_words));
    EXPECT_THAT(article, HasSubstr(card.remaining_words));
    for (const std::string& reason : card.reasons)
      EXPECT_THAT(article, HasSubstr(reason.substr(0, 12)));
    EXPECT_THAT(article, HasSubstr("If it waits"));
  }
}

TEST_F(ReportPage, ShowsMoneyThatAddsUpAndNoFormulas) {
  EXPECT_THAT(html, HasSubstr("$426.82"));
  EXPECT_THAT(html, HasSubstr("$456.70"));
  EXPECT_THAT(html, Not(HasSubstr("secret")));
}

/// Widths of the segments of a card's bar.
double bar_width(const std::string& svg) {
  double sum = 0;
  const std::regex segment(R"(width='([0-9.]+)' height='20' fill='url)");
  for (auto i = std::sregex_iterator(svg.begin(), svg.end(), segment); i != std::sregex_iterator(); ++i) {
    sum += std::stod((*i)[1]);
  }
  return sum;
}

TEST_F(ReportPage, BarsAreFullWhateverTheRounding) {
  const std::regex gauge(R"(<svg class='gauge'[\s\S]*?</svg>)");
  int bars = 0;
  for (auto i = std::sregex_iterator(html.begin(), html.end(), gauge); i != std::sregex_iterator(); ++i, ++bars) {
    EXPECT_NEAR(bar_width(i->str()), 376, 0.3);
  }
  EXPECT_EQ(bars, 12);
}

TEST(ReportPageText, StaysTextHoweverHostile) {
  const std::string hostile =
      "</title></style><script>alert(1)</script><img src=x onerror=alert(2)>\" onload='x' \xff\x01 &amp;";
  Survey survey = made_up::lot();
  survey.site = {hostile, hostile, hostile};
  survey.made_by_version = hostile;
  for (SurveyMarking& marking : survey.markings) {
    marking.photo = hostile;
    marking.evidence_photo = marking.evidence_plan = marking.evidence_loss = hostile;
    marking.decision.reasons = {hostile};
    marking.id += hostile;
    if (marking.same_as) marking.same_as = hostile;
  }
  survey.markings[0].person_json = R"({"note": "<b onclick=\"x\">&lt;</b>"})";
  for (SurveyPhoto& photo : survey.photos) {
    photo.file = photo.sha256 = hostile;
    photo.taken = hostile;
    photo.advice = {hostile};
    photo.plane->source = hostile;
  }
  survey.problems = {{hostile, hostile}};
  Estimate estimate = made_up::estimate_by_hand();
  estimate.currency = hostile;
  estimate.notes = {hostile};
  estimate.prices[0].what = estimate.prices[0].unit = hostile;
  const std::string html =
      report_html(report_content(survey, Policy{}, estimate, "no-such-folder", {hostile, hostile, {}, {}}));

  for (const Tag& tag : tags_of(html)) {
    EXPECT_NE(tag.name, "script");
    EXPECT_NE(tag.name, "b onclick");
    EXPECT_NE(tag.name, "img");  // no evidence picture exists
    for (const auto& [name, value] : tag.attributes)
      EXPECT_FALSE(name.starts_with("on")) << name << '=' << value;
  }
  EXPECT_THAT(html, Not(HasSubstr("<script")));
  EXPECT_THAT(html, Not(HasSubstr("\xff")));
  EXPECT_THAT(html, Not(HasSubstr("\x01")));
  EXPECT_THAT(html, HasSubstr("&lt;b onclick=&quot;x&quot;&gt;&amp;lt;&lt;/b&gt;"));
}

TEST(ReportPageText, IsAPageAlsoWithoutAnything) {
  const std::string html = report_html(report_content(Survey{}, Policy{}, std::nullopt, "no-such-folder", {}));
  tags_of(html);
  EXPECT_THAT(html, HasSubstr("No marking could be measured"));
}

struct Ran {
  int status = 0;
  std::string output;
};
Ran run(const std::string& command) {
  Ran ran;
  FILE* pipe = ::popen((command + " 2>&1").c_str(), "r");
  std::array<char, 4096> part{};
  while (const std::size_t n = std::fread(part.data(), 1, part.size(), pipe))
    ran.output.append(part.data(), n);
  const int closed = ::pclose(pipe);
  ran.status = WIFEXITED(closed) ? WEXITSTATUS(closed) : -1;
  return ran;
}

TEST_F(ReportPage, PrintsInABrowserWithoutComplaintAndWithoutTornCards) {
  for (const char* program : {"chromium", "pdftotext", "timeout"}) {
    if (run(std::string("command -v ") + program).status != 0) {
      GTEST_SKIP() << program << " is not installed, so the printed page was not looked at";
    }
  }
  write_file(folder / "report.html", html);
  const std::string pdf = (folder / "report.pdf").string();
  const Ran browser =
      run("timeout 100 chromium --headless --no-sandbox --disable-gpu --disable-quic --no-first-run "
          "--disable-background-networking --disable-component-update --disable-sync --enable-logging=stderr "
          "--no-pdf-header-footer --user-data-dir=" +
          (folder / "browser").string() + " --print-to-pdf=" + pdf + " file://" + (folder / "report.html").string());
  ASSERT_TRUE(fs::exists(pdf)) << browser.output;
  EXPECT_THAT(browser.output, Not(HasSubstr("CONSOLE"))) << "the page made the browser complain";

  const Ran text = run("pdftotext -layout " + pdf + " -");
  ASSERT_EQ(text.status, 0);
  const auto count = [](const std::string& page, const std::string& words) {
    int n = 0;
    for (std::size_t at = page.find(words); at != std::string::npos; at = page.find(words, at + 1))
      ++n;
    return n;
  };
  int cards = 0, pages = 0;
  for (std::size_t at = 0; at < text.output.size(); ++pages) {
    const std::size_t end = std::min(text.output.find('\f', at), text.output.size());
    const std::string page = text.output.substr(at, end - at);
    at = end + 1;
    const int heads = count(page, " of 100");  // a card's first line and its last: both on one page
    EXPECT_EQ(heads, count(page, "Who says so")) << "a card is torn on page " << pages + 1;
    EXPECT_LE(heads, 2);
    cards += heads;
  }
  EXPECT_EQ(cards, 12);
  EXPECT_LE(pages, 14) << "two cards a page, and seven pages for the rest";
}

}  // namespace
}  // namespace lotwear
