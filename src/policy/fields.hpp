#pragma once
// Reads the JSON files people edit (policy, rates, survey): every error names the file, the field, its line and column,
// and says what was expected. Names beginning with an underscore are comments and never read.

#include <initializer_list>
#include <memory>
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace lotwear {

/// One object of a JSON file, by its path from the root. Cheap to copy; keeps the file alive.
class Fields {
 public:
  /// `file` is the name used in messages. Throws Failure when `text` is not one JSON object, is nested deeper than 64
  /// levels or is not UTF-8.
  static Fields of_text(std::string text, std::string file);

  /// True when the field is there and not null.
  bool has(std::string_view name) const;
  bool is_number(std::string_view name) const;

  // Each throws Failure when the field is missing (or null), of another type or out of range. The `_if` twins answer
  // nothing for a missing or null field.
  double number(std::string_view name, double low, double high) const;
  std::optional<double> number_if(std::string_view name, double low, double high) const;
  int whole(std::string_view name, int low, int high) const;
  std::optional<int> whole_if(std::string_view name, int low, int high) const;
  std::optional<bool> flag_if(std::string_view name) const;
  std::string text(std::string_view name) const;
  std::optional<std::string> text_if(std::string_view name) const;
  std::vector<std::string> texts(std::string_view name) const;
  /// A list of `rows` lists of `columns` numbers, row after row.
  std::vector<double> grid(std::string_view name, std::size_t rows, std::size_t columns) const;
  Fields object(std::string_view name) const;
  std::optional<Fields> object_if(std::string_view name) const;
  std::vector<Fields> objects(std::string_view name, std::size_t at_most) const;
  /// Rings of points: [[[x, y], ...], ...], in order.
  std::vector<std::vector<std::pair<double, double>>> rings(std::string_view name, std::size_t most_points) const;

  /// The bytes of the value as they stand in the file; "null" when it is missing.
  std::string verbatim(std::string_view name) const;
  /// The field as messages name it, like "markings[3].paint".
  std::string path_to(std::string_view name) const;
  /// Every name in the object that is no comment, in alphabetical order.
  std::vector<std::string> names() const;
  /// Throws Failure naming the first field that is none of `known`.
  void allow_only(std::initializer_list<std::string_view> known) const;

  /// Throws Failure: file, line, column, field and `what` ("must be ...").
  [[noreturn]] void refuse(std::string_view name, const std::string& what) const;

 private:
  struct File;
  Fields(std::shared_ptr<const File> file, const nlohmann::json* here, std::size_t at, std::string path);
  const nlohmann::json* find(std::string_view name) const;
  const nlohmann::json& need(std::string_view name) const;
  std::size_t start_of(std::string_view name) const;

  std::shared_ptr<const File> file_;
  const nlohmann::json* here_ = nullptr;
  std::size_t at_ = 0;  ///< byte of the object's opening brace
  std::string path_;    ///< "" at the root, else like "markings[3].paint"
};

}  // namespace lotwear
