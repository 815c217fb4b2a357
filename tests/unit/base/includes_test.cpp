// Reads every #include under src/: a stage may name only the stages that src/CMakeLists.txt gives it, JSON appears only in
// *_json.cpp, the command line only in app/, and no pixels from `policy` on.
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <map>
#include <regex>
#include <set>
#include <sstream>
#include <string>

namespace {

namespace fs = std::filesystem;

std::string text_of(const fs::path& file) {
  std::ifstream in(file);
  std::stringstream text;
  text << in.rdbuf();
  return text.str();
}

std::map<std::string, std::set<std::string>> allowed_stages() {
  std::map<std::string, std::set<std::string>> allowed;
  const std::string cmake = text_of(fs::path(LOTWEAR_SOURCE) / "src/CMakeLists.txt");
  const std::regex stage(R"(lotwear_stage\((\w+)\s+(?:NEEDS\s+([\w\s]*?))?\s*(?:LIBS|\)))");
  for (auto i = std::sregex_iterator(cmake.begin(), cmake.end(), stage); i != std::sregex_iterator(); ++i) {
    std::istringstream needs((*i)[2].str());
    std::set<std::string>& may = allowed[(*i)[1].str()];
    may.insert((*i)[1].str());
    for (std::string need; needs >> need;) may.insert(need);
  }
  return allowed;
}

TEST(Includes, FlowOneWay) {
  const auto allowed = allowed_stages();
  ASSERT_GE(allowed.size(), 9U);
  const std::regex include(R"(#include\s+["<]([^">]+)[">])");
  int seen = 0;
  for (const auto& entry : fs::recursive_directory_iterator(fs::path(LOTWEAR_SOURCE) / "src")) {
    const std::string ending = entry.path().extension().string();
    if (ending != ".cpp" && ending != ".hpp") continue;
    const std::string stage = entry.path().parent_path().filename().string(), name = entry.path().filename().string();
    if (stage == "app") continue;
    ASSERT_TRUE(allowed.contains(stage)) << entry.path();
    const std::string text = text_of(entry.path());
    for (auto i = std::sregex_iterator(text.begin(), text.end(), include); i != std::sregex_iterator(); ++i) {
      const std::string what = (*i)[1].str(), folder = what.substr(0, what.find('/'));
      ++seen;
      if (allowed.contains(folder)) {
        EXPECT_TRUE(allowed.at(stage).contains(folder)) << entry.path() << " includes " << what;
      }
      EXPECT_NE(folder, "app") << entry.path();
      EXPECT_NE(folder, "CLI") << entry.path();
      if (what.starts_with("nlohmann/json.hpp")) {
        EXPECT_TRUE(name.ends_with("_json.cpp")) << entry.path();
      }
      if (stage == "policy" || stage == "survey" || stage == "tally") {
        EXPECT_NE(folder, "opencv2") << entry.path();
      }
    }
  }
  EXPECT_GT(seen, 100);
}

}  // namespace
