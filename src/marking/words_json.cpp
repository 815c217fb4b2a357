#include <iterator>
#include <map>
#include <nlohmann/json.hpp>

#include "base/files.hpp"
#include "base/trouble.hpp"
#include "marking/shapes.hpp"

namespace lotwear {

namespace {

LetterStroke::End end_from(const std::string& word) {
  if (word == "free") return LetterStroke::End::free;
  if (word == "meets") return LetterStroke::End::meets;
  if (word == "side") return LetterStroke::End::side;
  throw Failure("'" + word + "' is no end of a stroke; use free, meets or side");
}

Letter letter_from(const nlohmann::json& j) {
  Letter letter;
  for (const nlohmann::json& one : j) {
    LetterStroke stroke;
    for (const nlohmann::json& p : one.at("path"))
      stroke.path.push_back({p.at(0).get<double>(), p.at(1).get<double>()});
    if (stroke.path.size() < 2) throw Failure("a stroke needs two points at least");
    stroke.start = end_from(one.value("start", "free"));
    stroke.end = end_from(one.value("end", "free"));
    letter.push_back(std::move(stroke));
  }
  return letter;
}

}  // namespace

std::vector<Shape> load_words(const std::filesystem::path& models) {
  const std::filesystem::path file = models / "words.json";
  const std::string text = read_file(file, std::size_t{1} << 20);
  try {
    const nlohmann::json all = nlohmann::json::parse(text);
    std::map<char, Letter> alphabet;
    for (const auto& [name, strokes] : all.at("letters").items())
      alphabet[name.at(0)] = letter_from(strokes);
    std::vector<Shape> words;
    for (const nlohmann::json& j : all.at("words")) {
      const auto word = j.get<std::string>();
      std::vector<Letter> letters;
      for (const char c : word) {
        const auto drawn = alphabet.find(c);
        if (drawn == alphabet.end()) throw Failure("'" + word + "' has a letter without strokes");
        letters.push_back(drawn->second);
      }
      words.push_back(word_shape(word, letters));
    }
    return words;
  } catch (const nlohmann::json::exception& e) {
    throw Failure(file.string() + ": cannot be read as words (" + e.what() +
                  "); correct it or restore the shipped file");
  } catch (const Failure& e) {
    throw Failure(file.string() + ": " + e.what());
  }
}

std::vector<Shape> shapes_and_words(const std::filesystem::path& models) {
  std::vector<Shape> all = load_shapes(models), words = load_words(models);
  std::move(words.begin(), words.end(), std::back_inserter(all));
  return all;
}

}  // namespace lotwear
