// Who may ask, and when nobody does any more.

#include "review/gate.hpp"

#include <gmock/gmock.h>

#include "review/presence.hpp"

namespace lotwear {
namespace {

using ::testing::HasSubstr;

const std::string kToken(32, 'a');

Knock reading() { return {"GET", "/", "127.0.0.1:8123", "", "x=1; lotwear-8123=" + kToken, "", "", "", false}; }
Knock writing() {
  return {"POST",
          "/api/change",
          "localhost:8123",
          "http://localhost:8123",
          "lotwear-8123=" + kToken,
          kToken,
          "application/json",
          "12",
          false};
}
int status_of(const Knock& knock) {
  const auto no = Gate(kToken, 8123).check(knock);
  return no ? no->status : 200;
}

TEST(GateCheck, LetsItsOwnPageIn) {
  EXPECT_EQ(status_of(reading()), 200);
  EXPECT_EQ(status_of(writing()), 200);
  Knock first = reading();
  first.cookie.clear();
  first.target = "/?key=" + kToken;
  EXPECT_EQ(status_of(first), 200) << "the key is looked at by the page itself";
}

TEST(GateCheck, TurnsAwayOtherNamesOfThisMachine) {
  for (const char* host : {"", "evil.example", "evil.example:8123", "127.0.0.1", "127.0.0.1:81",
                           "127.0.0.1:8123.evil.example", "[::1]:8123"}) {
    Knock knock = reading();
    knock.host = host;
    EXPECT_EQ(status_of(knock), 403) << host;
  }
}

TEST(GateCheck, TurnsAwayOtherSites) {
  for (const char* origin :
       {"null", "http://evil.example", "https://127.0.0.1:8123", "http://127.0.0.1:8124", "http://127.0.0.1:8123/x"}) {
    for (Knock knock : {reading(), writing()}) {
      knock.origin = origin;
      EXPECT_EQ(status_of(knock), 403) << origin;
    }
  }
  Knock silent = writing();
  silent.origin.clear();
  EXPECT_EQ(status_of(silent), 403) << "a browser always names itself when it sends";
}

TEST(GateCheck, AsksForTheTokenOfThisRun) {
  for (const std::string& token : {std::string(), std::string(32, 'b'), std::string(31, 'a'), std::string(33, 'a')}) {
    Knock reads = reading(), by_cookie = writing(), by_header = writing();
    reads.cookie = by_cookie.cookie = "lotwear-8123=" + token;
    by_header.token = token;
    EXPECT_EQ(status_of(reads), 403) << token;
    EXPECT_EQ(status_of(by_cookie), 403) << token;
    EXPECT_EQ(status_of(by_header), 403) << token;
  }
  Knock other_port = reading();
  other_port.cookie = "lotwear-8124=" + kToken;
  EXPECT_EQ(status_of(other_port), 403);
}

TEST(GateCheck, TakesOnlyBodiesThatSayWhatAndHowLongTheyAre) {
  Knock coded = writing(), endless = writing(), form = writing();
  coded.coded_body = true;
  endless.content_length.clear();
  form.content_type = "text/plain";
  EXPECT_EQ(status_of(coded), 411);
  EXPECT_EQ(status_of(endless), 411);
  EXPECT_EQ(status_of(form), 415) << "a form of another site can send text/plain without asking";
  for (const char* method : {"PUT", "DELETE", "OPTIONS", "TRACE", "PATCH"}) {
    Knock knock = writing();
    knock.method = method;
    EXPECT_EQ(status_of(knock), 405) << method;
  }
}

TEST(Token, IsLongAndNeverTheSame) {
  EXPECT_EQ(random_token().size(), 32U);
  EXPECT_NE(random_token(), random_token());
}

class PresenceOfTabs : public ::testing::Test {
 protected:
  Presence presence;
  Presence::Time start{};
  Presence::Time after(int seconds) const { return start + std::chrono::seconds(seconds); }
};

TEST_F(PresenceOfTabs, NobodyYetIsNoEnd) { EXPECT_FALSE(presence.over(after(100'000))); }

TEST_F(PresenceOfTabs, EndsAMomentAfterTheLastTab) {
  presence.seen("one", after(0));
  presence.seen("two", after(0));
  presence.left("one", after(10));
  EXPECT_FALSE(presence.over(after(60)));
  presence.left("two", after(61));
  EXPECT_FALSE(presence.over(after(63)));
  EXPECT_TRUE(presence.over(after(70)));
}

TEST_F(PresenceOfTabs, APageLoadedAgainGoesOn) {
  presence.seen("one", after(0));
  presence.left("one", after(10));
  presence.seen("the same, loaded again", after(12));
  EXPECT_FALSE(presence.over(after(60)));
}

TEST_F(PresenceOfTabs, ATabInTheBackgroundSpeaksSeldomACrashedOneNeverAgain) {
  presence.seen("one", after(0));
  EXPECT_FALSE(presence.over(after(90)));
  presence.seen("one", after(95));
  EXPECT_FALSE(presence.over(after(180)));
  EXPECT_FALSE(presence.over(after(400))) << "silent for long: from now on it counts as gone";
  EXPECT_TRUE(presence.over(after(410)));
}

}  // namespace
}  // namespace lotwear
