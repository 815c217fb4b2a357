// The report in a headless browser, started once: no complaint, every picture loads, nothing sticks out, light and
// dark, what a screen reader is told, and the printed pages.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <map>
#include <string>

#include "base/files.hpp"
#include "made_up_survey.hpp"
#include "support/browser.hpp"
#include "support/run_shell.hpp"
#include "support/scratch_folder.hpp"
#include "views/report_html.hpp"

namespace lotwear {
namespace {

using nlohmann::json;

ReportContent whole_report(const test::ScratchFolder& folder) {
  const Survey survey = made_up::lot();
  made_up::write_pictures(survey, folder.path(), {800, 600});
  const Rates rates = load_rates(std::filesystem::path(LOTWEAR_MODELS) / "rates.json");
  return report_content(survey, Policy{}, estimate(survey, rates, EstimateSettings{}), folder.path(),
                        {"2026-04-12", {}, {}, RatesFrom::contractor, Copy::contractor},
                        estimate_options(survey, rates, {}));
}

void nothing_sticks_out(test::Browser& browser, int width) {
  browser.call("Emulation.setDeviceMetricsOverride",
               {{"width", width}, {"height", 900}, {"deviceScaleFactor", 1}, {"mobile", false}});
  EXPECT_LE(browser.value_of("document.documentElement.scrollWidth"), width);
}

std::string text_of(const json& node, const char* what) {
  return node.contains(what) ? node.at(what).value("value", json("")).dump() : "";
}

/// Chromium's own accessibility tree: what is there to be read aloud, and that it has a name.
void can_be_read_aloud(test::Browser& browser, std::size_t cards) {
  const json nodes = browser.call("Accessibility.getFullAXTree", json::object()).at("nodes");
  std::map<std::string, std::size_t> roles;
  for (const json& node : nodes) {
    if (node.value("ignored", false)) continue;
    const std::string role = text_of(node, "role"), name = text_of(node, "name");
    ++roles[role];
    for (const char* named :
         {"\"heading\"", "\"link\"", "\"image\"", "\"img\"", "\"region\"", "\"navigation\"", "\"article\""}) {
      if (role == named) {
        EXPECT_GT(name.size(), 2U) << role << " without a name: " << node.dump();
      }
    }
  }
  EXPECT_EQ(roles["\"main\""], 1U);
  EXPECT_EQ(roles["\"article\""], cards);
  EXPECT_GE(roles["\"columnheader\""], 30U);
  EXPECT_GE(roles["\"image\""] + roles["\"img\""], 3 * cards);
  EXPECT_GE(roles["\"heading\""], 10 + cards);
}

/// A card's first line and its last stand on one page; two cards a page.
void prints_without_torn_cards(test::Browser& browser, const test::ScratchFolder& folder) {
  const std::string encoded =
      browser.call("Page.printToPDF", {{"preferCSSPageSize", true}, {"printBackground", false}}).at("data");
  folder.put("print.b64", encoded);
  const std::string pdf = folder / "print.pdf";
  ASSERT_EQ(test::shell("base64 -d '" + (folder / "print.b64").string() + "' > '" + pdf + "'").status, 0);
  const test::ShellRan text = test::shell("pdftotext -layout '" + pdf + "' -");
  ASSERT_EQ(text.status, 0) << text.output;
  int cards = 0, pages = 0;
  for (std::size_t at = 0; at < text.output.size(); ++pages) {
    const std::size_t end = std::min(text.output.find('\f', at), text.output.size());
    const std::string page = text.output.substr(at, end - at);
    at = end + 1;
    const int heads = test::times_in(page, " of 100");
    EXPECT_EQ(heads, test::times_in(page, "Who says so")) << "a card is torn on page " << pages + 1;
    EXPECT_LE(heads, 2);
    cards += heads;
  }
  EXPECT_EQ(cards, 12);
  EXPECT_LE(pages, 24) << "six pages of cards, the rest for bid, workings, method and log";
}

TEST(ReportInABrowser, LoadsReadsAndPrints) {
  LOTWEAR_NEEDS("chromium");
  LOTWEAR_NEEDS("pdftotext");
  const test::ScratchFolder folder;
  const ReportContent content = whole_report(folder);
  const std::string file = folder.put("report.html", report_html(content));
  test::Browser browser(folder.path());
  for (const char* domain : {"Page.enable", "Runtime.enable", "Log.enable", "Network.enable", "Accessibility.enable"})
    browser.call(domain, json::object());
  nothing_sticks_out(browser, 1200);
  browser.call("Page.navigate", {{"url", "file://" + file}});
  browser.wait_for("Page.loadEventFired");

  EXPECT_EQ(browser.value_of("document.images.length"), 36);
  EXPECT_EQ(browser.value_of("Array.from(document.images).filter(i => !i.complete || i.naturalWidth < 20).length"), 0);
  for (const int width : {1200, 820, 390})
    nothing_sticks_out(browser, width);

  const auto background = [&] {
    return browser.value_of("getComputedStyle(document.documentElement).backgroundColor");
  };
  const json light = background();
  browser.call("Emulation.setEmulatedMedia",
               {{"features", json::array({{{"name", "prefers-color-scheme"}, {"value", "dark"}}})}});
  EXPECT_NE(background(), light) << "a dark page for those who ask for one";
  browser.call("Emulation.setEmulatedMedia", {{"features", json::array()}});

  can_be_read_aloud(browser, content.cards.size());
  prints_without_torn_cards(browser, folder);

  for (const json& event : browser.events) {
    const std::string what = event.value("method", "");
    EXPECT_NE(what, "Log.entryAdded") << event.dump();
    EXPECT_NE(what, "Runtime.consoleAPICalled") << event.dump();
    EXPECT_NE(what, "Runtime.exceptionThrown") << event.dump();
    if (what != "Network.requestWillBeSent") continue;
    const std::string url = event.at("params").at("request").at("url");
    EXPECT_TRUE(url.starts_with("file://" + file) || url.starts_with("data:")) << "it asked for " << url.substr(0, 80);
  }
}

}  // namespace
}  // namespace lotwear
