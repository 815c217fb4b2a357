// The report as a browser prints it, where one is installed.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cstdio>
#include <filesystem>
#include <string>

#include "base/files.hpp"
#include "made_up_survey.hpp"
#include "views/report_html.hpp"

namespace lotwear {
namespace {

namespace fs = std::filesystem;
using testing::HasSubstr;
using testing::Not;

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

TEST(ReportPrint, GoesThroughABrowserWithoutComplaintAndWithoutTornCards) {
  for (const char* program : {"chromium", "pdftotext", "timeout"}) {
    if (run(std::string("command -v ") + program).status != 0) {
      GTEST_SKIP() << program << " is not installed, so the printed page was not looked at";
    }
  }
  const fs::path folder = fs::temp_directory_path() / ("lotwear-print-" + std::to_string(::getpid()));
  fs::remove_all(folder);
  fs::create_directories(folder);
  const Survey survey = made_up::lot();
  made_up::write_pictures(survey, folder, {800, 600});
  write_file(folder / "report.html", report_html(report_content(survey, Policy{}, made_up::estimate_by_hand(), folder,
                                                                {"2026-04-12", {}, {}, {}})));
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
  fs::remove_all(folder);
}

}  // namespace
}  // namespace lotwear
