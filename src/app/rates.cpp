#include "app/rates.hpp"

#include <fmt/format.h>
#include <fmt/ostream.h>

#include "app/models.hpp"
#include "base/files.hpp"
#include "base/trouble.hpp"
#include "tally/rates.hpp"

namespace lotwear {

namespace {

/// A JSON string's inside; control characters have no place in a name.
std::string inside_quotes(const std::string& text) {
  std::string safe;
  for (const char c : text) {
    if (static_cast<unsigned char>(c) < 0x20) throw Failure("--name holds a control character; write it as one line");
    if (c == '"' || c == '\\') safe += '\\';
    safe += c;
  }
  return safe;
}

}  // namespace

RatesCommands add_rates(CLI::App& app, RatesOptions& options) {
  CLI::App* command =
      app.add_subcommand("rates", "Your own rates: begin from the commented example, look for mistakes");
  command->require_subcommand(1);
  RatesCommands commands;
  commands.fresh =
      command->add_subcommand("new", "Write the example rates as a file of your own, every field explained");
  commands.fresh->add_option("file", options.file, "file to write; never one that exists")->required();
  commands.fresh->add_option("--name", options.name, "what the estimate calls these rates");
  commands.check = command->add_subcommand("check", "Name every mistake in a rates file with its line and column");
  commands.check->add_option("file", options.file, "rates file to look at")->required();
  command->footer(
      "Examples:\n  lotwear rates new my-rates.json --name \"Harbour crew 2026\"\n"
      "  lotwear rates check my-rates.json");
  return commands;
}

void rates_new(const RatesOptions& options, std::ostream& out) {
  if (std::filesystem::exists(options.file)) {
    throw Failure(fmt::format("{}: exists already; name another file, or move it away first", options.file.string()));
  }
  std::string text = read_file(models_folder() / "rates.json");
  const std::string shipped = "\"name\": \"Example rates\"";
  const std::size_t at = text.find(shipped);
  require(at != std::string::npos, "the shipped rates have their name");
  const std::string name = options.name.empty() ? "Rates of " + options.file.stem().string() : options.name;
  text.replace(at, shipped.size(), fmt::format("\"name\": \"{}\"", inside_quotes(name)));
  read_rates(text, options.file.string());
  write_file(options.file, text);
  fmt::print(out, "{}: put in your own figures, then `lotwear rates check {}`\n", options.file.string(),
             options.file.string());
}

void rates_check(const RatesOptions& options, std::ostream& out) {
  const std::vector<std::string> complaints = check_rates(options.file);
  for (const std::string& one : complaints)
    fmt::print(out, "{}\n", one);
  if (complaints.empty()) {
    fmt::print(out, "{}: reads well\n", options.file.string());
    return;
  }
  throw Failure(fmt::format("{}: {} {} to put right", options.file.string(), complaints.size(),
                            complaints.size() == 1 ? "mistake" : "mistakes"));
}

}  // namespace lotwear
