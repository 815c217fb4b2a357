// The real server on a real port, asked as a browser asks and as a stranger does.

#include <gmock/gmock.h>
#include <httplib.h>

#include <nlohmann/json.hpp>
#include <thread>

#include "base/files.hpp"
#include "review/review.hpp"
#include "support/photo_files.hpp"
#include "support/sample_survey.hpp"
#include "support/scratch_folder.hpp"

namespace lotwear {
namespace {

using nlohmann::json;
using ::testing::HasSubstr;
using ::testing::Not;

class Server : public ::testing::Test {
 protected:
  test::ScratchFolder folder;
  std::unique_ptr<ReviewServer> server;
  std::jthread serving;
  std::string token, cookie;

  void start(const Survey& survey) {
    save_survey(survey, folder / "survey");
    server = std::make_unique<ReviewServer>(SessionPlaces{folder / "survey", LOTWEAR_MODELS, {}}, 0);
    token = server->address().substr(server->address().find("key=") + 4);
    cookie = "lotwear-" + std::to_string(server->port()) + "=" + token;
    serving = std::jthread([this] { server->serve(); });
  }
  void SetUp() override { std::filesystem::create_directories(folder / "survey"); }
  void TearDown() override {
    if (server) server->stop();
  }
  httplib::Client client() const {
    httplib::Client made("127.0.0.1", server->port());
    made.set_read_timeout(20);
    return made;
  }
  httplib::Result get(const std::string& path) const {
    return client().Get(path, httplib::Headers{{"Cookie", cookie}});
  }
  httplib::Headers ours() const {
    return {{"Cookie", cookie},
            {"X-Lotwear-Token", token},
            {"Origin", "http://127.0.0.1:" + std::to_string(server->port())}};
  }
  httplib::Result post(const std::string& path, const std::string& body) const {
    return client().Post(path, ours(), body, "application/json");
  }
};

TEST_F(Server, OpensWithItsKeyAndShowsTheSurvey) {
  start(samples::small_lot());
  const auto first = client().Get("/?key=" + token);
  ASSERT_TRUE(first);
  EXPECT_EQ(first->status, 200);
  EXPECT_THAT(first->get_header_value("Set-Cookie"), HasSubstr("HttpOnly; SameSite=Strict"));
  const auto page = get("/");
  EXPECT_EQ(page->status, 200);
  EXPECT_THAT(page->body, HasSubstr(token));
  EXPECT_THAT(page->get_header_value("Content-Security-Policy"), HasSubstr("default-src 'none'"));
  EXPECT_THAT(page->get_header_value("Content-Security-Policy"), Not(HasSubstr("unsafe")));
  EXPECT_EQ(page->get_header_value("X-Content-Type-Options"), "nosniff");
  EXPECT_EQ(page->get_header_value("Cache-Control"), "no-store");
  for (const char* file : {"/page/app.js", "/page/style.css", "/page/inks.css"})
    EXPECT_EQ(get(file)->status, 200) << file;
  const json state = json::parse(get("/api/state")->body);
  EXPECT_EQ(state.at("markings").size(), 3U);
  EXPECT_EQ(state.at("site").at("name"), "Harbour Row, north lot");
}

TEST_F(Server, NothingInThePageComesFromElsewhere) {
  start(samples::small_lot());
  for (const char* file :
       {"/", "/page/app.js", "/page/net.js", "/page/words.js", "/page/walk.js", "/page/stage.js", "/page/viewer.js",
        "/page/verdict.js", "/page/site.js", "/page/same.js", "/page/keys.js", "/page/style.css"}) {
    const auto got = get(file);
    ASSERT_EQ(got->status, 200) << file;
    std::string body = got->body;
    const std::string name_of_svg = "http://www.w3.org/2000/svg";  // a name, never fetched
    if (const auto at = body.find(name_of_svg); at != std::string::npos) body.erase(at, name_of_svg.size());
    EXPECT_THAT(body, Not(HasSubstr("http://"))) << file;
    EXPECT_THAT(body, Not(HasSubstr("https://"))) << file;
    for (const char* way_in : {"innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "eval("})
      EXPECT_THAT(body, Not(HasSubstr(way_in))) << file;
  }
}

TEST_F(Server, AStrangerGetsAPageThatSaysWhatToDo) {
  start(samples::small_lot());
  const auto bare = client().Get("/");
  EXPECT_EQ(bare->status, 403);
  EXPECT_THAT(bare->body, HasSubstr("open the address that lotwear review printed"));
  EXPECT_EQ(client().Get("/api/state")->status, 403);
  EXPECT_EQ(client().Get("/photo/0")->status, 403);
  EXPECT_EQ(client().Get("/?key=" + std::string(32, '0'))->status, 403);
  EXPECT_EQ(client().Get("/", httplib::Headers{{"Cookie", cookie}, {"Host", "evil.example"}})->status, 403);
  EXPECT_EQ(client().Get("/", httplib::Headers{{"Cookie", cookie}, {"Origin", "http://evil.example"}})->status, 403);
  EXPECT_EQ(client().Get("/page/trouble.css")->status, 200);
}

TEST_F(Server, AChangeNeedsTokenOriginAndKind) {
  start(samples::small_lot());
  const std::string wish = R"({"is": "say", "revision": 0, "id": "M001", "fields": {"confirmed": true}})";
  httplib::Headers no_token = ours(), no_origin = ours(), no_cookie = ours(), foreign = ours();
  no_token.erase("X-Lotwear-Token");
  no_origin.erase("Origin");
  no_cookie.erase("Cookie");
  foreign.erase("Origin");
  foreign.emplace("Origin", "http://evil.example");
  for (const httplib::Headers& headers : {no_token, no_origin, no_cookie, foreign})
    EXPECT_EQ(client().Post("/api/change", headers, wish, "application/json")->status, 403);
  EXPECT_EQ(client().Post("/api/change", ours(), wish, "text/plain")->status, 415);
  EXPECT_EQ(load_survey(folder / "survey").revision, 0) << "none of them did anything";
  EXPECT_EQ(post("/api/change", wish)->status, 200);
  EXPECT_EQ(load_survey(folder / "survey").revision, 1);
}

TEST_F(Server, AnswersAChangeWithWhatBecameOfItAndAnOldOneWithConflict) {
  start(samples::small_lot());
  const auto done = post("/api/change", R"({"is": "say", "revision": 0, "id": "M001", "fields": {"adhesion": 0}})");
  ASSERT_EQ(done->status, 200) << done->body;
  const json answer = json::parse(done->body);
  EXPECT_EQ(answer.at("revision"), 1);
  EXPECT_EQ(answer.at("undo"), "M001: adhesion 0");
  EXPECT_EQ(answer.at("markings").at(0).at("decision").at("action"), "grind-and-repaint");
  EXPECT_EQ(answer.at("markings").at(0).at("measured").at("decision").at("action"), "repaint");
  const auto stale = post("/api/change", R"({"is": "say", "revision": 0, "id": "M001", "fields": {"adhesion": 5}})");
  EXPECT_EQ(stale->status, 409);
  EXPECT_THAT(stale->body, HasSubstr("another tab"));
  EXPECT_EQ(json::parse(post("/api/here", R"({"tab": "x"})")->body).at("revision"), 1);
}

TEST_F(Server, RefusesWhatCannotBeReadInOneSentence) {
  start(samples::small_lot());
  for (const char* body :
       {"", "nonsense", "[]", "{}", R"({"is": "dance", "revision": 0})",
        R"({"is": "say", "revision": -1, "id": "M001"})",
        R"({"is": "draw", "revision": 0, "id": "M001", "outline": "round"})",
        R"({"is": "lay", "revision": 0, "photo": 0, "shape": "line", "from": {"x": 1}, "to": {"x": 1, "y": 2}})"}) {
    const auto got = post("/api/change", body);
    ASSERT_TRUE(got) << body;
    EXPECT_EQ(got->status, 400) << body;
    EXPECT_TRUE(json::parse(got->body).contains("trouble")) << got->body;
  }
  EXPECT_EQ(post("/api/change", R"({"is": "say", "revision": 0, "id": "M404", "fields": {"coats": 1}})")->status, 422);
  EXPECT_EQ(post("/api/nothing", "{}")->status, 404);
}

TEST_F(Server, BodiesAreBounded) {
  start(samples::small_lot());
  const auto large = post("/api/change", std::string(3 << 20, 'x'));
  EXPECT_TRUE(!large || large->status == 413) << (large ? large->status : 0);
  httplib::Headers chunked = ours();
  const auto endless = client().Post(
      "/api/change", chunked,
      [](std::size_t, httplib::DataSink& sink) {
        sink.os << "{}";
        sink.done();
        return true;
      },
      "application/json");
  EXPECT_TRUE(!endless || endless->status == 411);
  EXPECT_EQ(get("/api/state")->status, 200) << "and it goes on";
}

TEST_F(Server, NoPathLeadsOutOfTheSurveyAndItsPhotos) {
  Survey survey = samples::small_lot();
  folder.put("secret.txt", "not for anybody");
  folder.put("secret.jpg", "\xFF\xD8\xFFnot for anybody");
  survey.photos.push_back(samples::photo("../secret.jpg", 'b'));
  survey.photos.push_back(samples::photo("secret.jpg", 'c'));  // there, in the folder around, but not what was assessed
  survey.markings[0].evidence_plan = "../secret.jpg";
  survey.markings[1].evidence_plan = "/etc/passwd";
  start(survey);
  for (const char* path :
       {"/photo/0", "/photo/1", "/photo/2", "/photo/2/upright", "/photo/9", "/photo/-1", "/photo/99999999999",
        "/evidence/M001/plan", "/evidence/M002/plan", "/evidence/M001/../../survey.json", "/evidence/M404/plan",
        "/../survey.json", "/%2e%2e/survey.json", "/page/../survey.json", "/page/..%2f..%2fsurvey.json", "/survey.json",
        "/page/index.html"}) {
    const auto got = get(path);
    ASSERT_TRUE(got) << path;
    EXPECT_EQ(got->status, 404) << path;
    EXPECT_THAT(got->body, Not(HasSubstr("not for anybody"))) << path;
    EXPECT_THAT(got->body, Not(HasSubstr("root:"))) << path;
  }
}

TEST_F(Server, HostileNamesComeAsTextAndNothingElse) {
  Survey survey = samples::small_lot();
  const std::string name = "<script>alert(1)</script>\"'&.jpg";
  survey.photos[0].file = name;
  for (SurveyMarking& marking : survey.markings)
    marking.photo = name;
  start(survey);
  const auto trouble = get("/photo/0");
  EXPECT_EQ(trouble->status, 404);
  EXPECT_THAT(trouble->body, Not(HasSubstr("<script>")));
  const auto state = get("/api/state");
  EXPECT_THAT(state->get_header_value("Content-Type"), HasSubstr("application/json"));
  EXPECT_EQ(json::parse(state->body).at("photos").at(0).at("file"), name);
}

TEST_F(Server, EndsWhenThePageIsDone) {
  start(samples::small_lot());
  EXPECT_EQ(post("/api/done", "{}")->status, 200);
  serving.join();
  EXPECT_FALSE(client().Get("/"));
}

TEST_F(Server, APortThatIsTakenIsNamed) {
  start(samples::small_lot());
  const test::ScratchFolder& other = folder;
  std::filesystem::create_directories(other / "two");
  save_survey(samples::small_lot(), other / "two");
  try {
    ReviewServer second(SessionPlaces{other / "two", LOTWEAR_MODELS, {}}, server->port());
    FAIL() << "two servers on one port";
  } catch (const Failure& failure) {
    EXPECT_THAT(failure.what(), HasSubstr("is taken"));
  }
}

}  // namespace
}  // namespace lotwear
