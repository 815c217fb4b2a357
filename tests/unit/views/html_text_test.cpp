#include "views/html_text.hpp"

#include <gtest/gtest.h>

#include <string>

namespace lotwear {
namespace {

TEST(Escape, LeavesNoMarkup) {
  EXPECT_EQ(escape("plain text, 5\u00a0% \u2013 \u00e9\U0001F6A7"), "plain text, 5\u00a0% \u2013 \u00e9\U0001F6A7");
  EXPECT_EQ(escape("<script>&\"'"), "&lt;script&gt;&amp;&quot;&#39;");
  EXPECT_EQ(escape("a\tb\nc"), "a\tb\nc");
}

TEST(Escape, ReplacesControlsAndWhatIsNotUtf8) {
  const std::string bad = "\xEF\xBF\xBD";
  EXPECT_EQ(escape(std::string("a\0b\x1b"
                               "c\x7f",
                               6)),
            "a" + bad + "b" + bad + "c" + bad);
  EXPECT_EQ(escape("\xff<"), bad + "&lt;");
  EXPECT_EQ(escape("\xc3"), bad);                                // cut off
  EXPECT_EQ(escape("\xc3<b>"), bad + "&lt;b&gt;");               // must not swallow the <
  EXPECT_EQ(escape("\xc0\xbc"), bad + bad);                      // overlong <
  EXPECT_EQ(escape("\xe0\x80\xbc"), bad + bad + bad);            // overlong <
  EXPECT_EQ(escape("\xed\xa0\x80"), bad + bad + bad);            // surrogate
  EXPECT_EQ(escape("\xf4\x90\x80\x80"), bad + bad + bad + bad);  // beyond U+10FFFF
}

// RFC 4648, section 10.
TEST(Base64, AgreesWithTheStandard) {
  EXPECT_EQ(base64(""), "");
  EXPECT_EQ(base64("f"), "Zg==");
  EXPECT_EQ(base64("fo"), "Zm8=");
  EXPECT_EQ(base64("foo"), "Zm9v");
  EXPECT_EQ(base64("foob"), "Zm9vYg==");
  EXPECT_EQ(base64("fooba"), "Zm9vYmE=");
  EXPECT_EQ(base64("foobar"), "Zm9vYmFy");
  EXPECT_EQ(base64(std::string("\xff\x00\xfe", 3)), "/wD+");
}

TEST(CutShort, CutsBetweenCharacters) {
  EXPECT_EQ(cut_short("plain", 5), "plain");
  EXPECT_EQ(cut_short("plainer", 5), "plain\u2026");
  EXPECT_EQ(cut_short("caf\u00e9s", 4), "caf\u2026") << "never half of an e acute";
}

}  // namespace
}  // namespace lotwear
