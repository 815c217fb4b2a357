#include <nlohmann/json.hpp>

#include "base/files.hpp"
#include "base/trouble.hpp"
#include "marking/shapes.hpp"

namespace lotwear {

namespace {

Shape shape_from(const nlohmann::json& j) {
  Shape shape;
  shape.name = j.at("name").get<std::string>();
  const std::optional<Kind> kind = kind_from(j.at("kind").get<std::string>());
  if (!kind) throw Failure("kind of '" + shape.name + "' is not a word of the survey file");
  shape.kind = *kind;
  shape.low_length_mm = j.at("length_mm").at("low").get<double>();
  shape.usual_length_mm = j.at("length_mm").at("usual").get<double>();
  shape.high_length_mm = j.at("length_mm").at("high").get<double>();
  const auto in_order = [](double low, double usual, double high) { return low <= usual && usual <= high; };
  if (!in_order(shape.low_length_mm, shape.usual_length_mm, shape.high_length_mm) || shape.low_length_mm <= 0) {
    throw Failure("lengths of '" + shape.name + "' are not positive and rising");
  }
  for (const std::string& name : proportion_names(shape.name)) {
    const nlohmann::json& p = j.at("proportions").at(name);
    shape.proportions.push_back({name, p.at("low").get<double>(), p.at("usual").get<double>(),
                                 p.at("high").get<double>(), p.value("of_length", true)});
    const Proportion& read = shape.proportions.back();
    if (!in_order(read.low, read.usual, read.high)) {
      throw Failure("'" + name + "' of '" + shape.name + "' must have low <= usual <= high");
    }
  }
  return shape;
}

}  // namespace

std::vector<Shape> load_shapes(const std::filesystem::path& models) {
  const std::filesystem::path file = models / "shapes.json";
  const std::string text = read_file(file, std::size_t{1} << 20);
  try {
    std::vector<Shape> shapes;
    const nlohmann::json all = nlohmann::json::parse(text);
    for (const nlohmann::json& j : all.at("shapes"))
      shapes.push_back(shape_from(j));
    if (shapes.empty()) throw Failure("there is not a single shape in it");
    return shapes;
  } catch (const nlohmann::json::exception& e) {
    throw Failure(file.string() + ": cannot be read as shapes (" + e.what() +
                  "); correct it or restore the shipped file");
  } catch (const Failure& e) {
    throw Failure(file.string() + ": " + e.what());
  }
}

}  // namespace lotwear
